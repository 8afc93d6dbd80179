-- A book as the first form of it holds one: two jobs (one whose text is no TOML), a person, an event, a test, a task, a plan.
INSERT INTO fact (name, value) VALUES ('book_id', '01a2185d-0000-7000-8000-000000000001');
INSERT INTO person (id, sealed_with, sealed, revision, added_at) VALUES ('01a2185d-0000-7000-8000-000000000002', '', NULL, 1, '2027-01-04T09:00:00.000000Z');
INSERT INTO client (id, added_at) VALUES ('01a2185d-0000-7000-8000-000000000003', '2027-01-04T09:00:00.000000Z');
INSERT INTO client_person (client_id, person_id, role, added_at) VALUES ('01a2185d-0000-7000-8000-000000000003', '01a2185d-0000-7000-8000-000000000002', 'client', '2027-01-04T09:00:00.000000Z');
INSERT INTO site (id, client_id, name, added_at) VALUES ('01a2185d-0000-7000-8000-000000000004', '01a2185d-0000-7000-8000-000000000003', 'waiting room', '2027-01-04T09:00:00.000000Z');
INSERT INTO tank (id, site_id, name, added_at) VALUES ('01a2185d-0000-7000-8000-000000000005', '01a2185d-0000-7000-8000-000000000004', 'divider', '2027-01-04T09:00:00.000000Z');
INSERT INTO job (id, site_id, tank_id, newest_n, events_n, added_at, added_by) VALUES ('01a2185d-0000-7000-8000-000000000006', '01a2185d-0000-7000-8000-000000000004', '01a2185d-0000-7000-8000-000000000005', 2, 1, '2027-01-04T09:00:00.000000Z', 'me');
INSERT INTO version (job_id, n, parent, text, sha256, saved_at, saved_by) VALUES ('01a2185d-0000-7000-8000-000000000006', 1, 0, 'name = "Old name"', '780f7f78c63d2c9fc3da51c440591edb979489ac9e55b2b96c355d9b2aa179d9', '2027-01-04T09:00:00.000000Z', 'me');
INSERT INTO version (job_id, n, parent, text, sha256, saved_at, saved_by) VALUES ('01a2185d-0000-7000-8000-000000000006', 2, 1, 'name = "Divider"
reference = "D-7"  # theirs
[[site.windows]]
kind = "prepare"
start = "2027-02-08 16:00"
[[site.windows]]
kind = "day"
start = "2027-02-10 06:30"
', 'cdcd66bff1bf2dce4b85d2605f724de14e22d749cafb4a2a647491ac3bfc094d', '2027-01-05T09:00:00.000000Z', 'me');
INSERT INTO job (id, newest_n, events_n, added_at, added_by) VALUES ('01a2185d-0000-7000-8000-000000000007', 1, 0, '2027-01-06T09:00:00.000000Z', 'me');
INSERT INTO version (job_id, n, parent, text, sha256, saved_at, saved_by) VALUES ('01a2185d-0000-7000-8000-000000000007', 1, 0, 'name = "half', 'e8d75ac9b890ebdead3245d73346c2a476731dd5838b97c3d123c626554d211a', '2027-01-06T09:00:00.000000Z', 'me');
INSERT INTO event (id, job_id, n, kind, subject, at, received_at, job_reference, actor, device, seq, body, sha256) VALUES ('01a2185d-0000-7000-8000-000000000008', '01a2185d-0000-7000-8000-000000000006', 1, 'counted', 'caridina_multidentata', '2027-02-10T08:05:00', '2027-02-10T07:05:01.000000Z', 'D-7', 'me', 'phone', 1, '{"caught": 5}', '');
INSERT INTO water_test (id, job_id, at, readings, received_at) VALUES ('01a2185d-0000-7000-8000-000000000009', '01a2185d-0000-7000-8000-000000000006', '2027-01-05T10:00:00.000000Z', '{"ph": 6.8}', '2027-01-05T10:00:00.000000Z');
INSERT INTO task (id, job_id, kind, state, added_at) VALUES ('01a2185d-0000-7000-8000-00000000000a', '01a2185d-0000-7000-8000-000000000006', 'plan', 'running', '2027-01-05T10:00:00.000000Z');
INSERT INTO plan (id, job_id, version_n, inputs_hash, plan_json, computed_at) VALUES ('01a2185d-0000-7000-8000-00000000000b', '01a2185d-0000-7000-8000-000000000006', 2, 'h', '{"verdict": "misfit", "figures": []}', '2027-01-05T10:00:00.000000Z');
