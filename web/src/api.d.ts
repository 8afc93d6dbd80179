// Written by types.mjs from openapi.json: change neither by hand.
export interface paths {
    "/api/jobs": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * List Jobs
         * @description Jobs of the book.
         */
        get: operations["list_jobs_api_jobs_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Job
         * @description One job.
         */
        get: operations["get_job_api_jobs__job_id__get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/events": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * List Events
         * @description Events of a job after a number, in order; who asks for those after the last number seen misses none.
         */
        get: operations["list_events_api_jobs__job_id__events_get"];
        put?: never;
        /**
         * Append Events
         * @description Append events; sent again they do no harm, and one that is refused hinders no other.
         */
        post: operations["append_events_api_jobs__job_id__events_post"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/versions": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * List Versions
         * @description All saved versions of a job, newest first.
         */
        get: operations["list_versions_api_jobs__job_id__versions_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/versions/{number}": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Version
         * @description The text of a version.
         */
        get: operations["get_version_api_jobs__job_id__versions__number__get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/versions/{number}/drawings/{name}": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Drawing
         * @description A figure of a plan as SVG.
         */
        get: operations["get_drawing_api_jobs__job_id__versions__number__drawings__name__get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/versions/{number}/plan": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Plan
         * @description What the plan of a version says; 404 until it was made.
         */
        get: operations["get_plan_api_jobs__job_id__versions__number__plan_get"];
        put?: never;
        /**
         * Make Plan
         * @description Have a plan made; asked twice, it is made once.
         */
        post: operations["make_plan_api_jobs__job_id__versions__number__plan_post"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/tasks/{task_id}": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Task
         * @description How far long work is.
         */
        get: operations["get_task_api_tasks__task_id__get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/tasks/{task_id}/cancel": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Cancel Task
         * @description Ask long work to stop.
         */
        post: operations["cancel_task_api_tasks__task_id__cancel_post"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/tasks/{task_id}/restart": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Restart Task
         * @description Begin work that ended without a result once more, as a new task.
         */
        post: operations["restart_task_api_tasks__task_id__restart_post"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
}
export type webhooks = Record<string, never>;
export interface components {
    schemas: {
        /**
         * AcceptedItem
         * @description An event that is in the book.
         *
         *     Attributes
         *     ----------
         *     id : UUID
         *     n : int
         *     contradicts : str
         *         A sentence where its time cannot be right together with another event's; it is kept all the same. Else empty.
         */
        AcceptedItem: {
            /**
             * Contradicts
             * @default
             */
            contradicts: string;
            /**
             * Id
             * Format: uuid
             */
            id: string;
            /** N */
            n: number;
        };
        /**
         * Appended
         * @description What became of a batch of events; each of them is in one of the two.
         */
        Appended: {
            /** Accepted */
            accepted: components["schemas"]["AcceptedItem"][];
            /** Refused */
            refused: components["schemas"]["RefusedItem"][];
        };
        /**
         * Event
         * @description One fact.
         *
         *     Attributes
         *     ----------
         *     id : UUID
         *         Made where the fact was noted.
         *     at : datetime
         *         When it happened, local time of the site; or with an offset, such as 2027-10-31T02:30:00+01:00, which tells the two
         *         hours of a clock change apart.
         *     kind : EventKind
         *         What kind of fact it is.
         *     job : str
         *         Reference of the job.
         *     subject : str
         *         Activity id, species id, container label, water or person the fact is about.
         *     body : mapping
         *         What was seen: numbers with the unit in the name, texts.
         *     actor, device : str
         *         Who noted it, and on what.
         *     seq : int
         *         Running number on that device.
         */
        Event: {
            /**
             * Actor
             * @default
             */
            actor: string;
            /**
             * At
             * Format: date-time
             */
            at: string;
            /**
             * Body
             * @default {}
             */
            body: {
                [key: string]: components["schemas"]["JsonValue"];
            };
            /**
             * Device
             * @default
             */
            device: string;
            /**
             * Id
             * Format: uuid
             */
            id: string;
            /** Job */
            job: string;
            kind: components["schemas"]["EventKind"];
            /**
             * Seq
             * @default 0
             */
            seq: number;
            /**
             * Subject
             * @default
             */
            subject: string;
        };
        /**
         * EventItem
         * @description An event with its number within the job, in the order in which the book took them.
         */
        EventItem: {
            event: components["schemas"]["Event"];
            /** N */
            n: number;
            /**
             * Received At
             * Format: date-time
             */
            received_at: string;
        };
        /**
         * EventKind
         * @description What kind of fact an event is.
         * @enum {string}
         */
        EventKind: "started" | "finished" | "slipped" | "dropped" | "added" | "measured" | "counted" | "used" | "photographed" | "noted" | "decided" | "unavailable" | "corrected";
        /**
         * EventPage
         * @description Events of a job after a number.
         */
        EventPage: {
            /** Events */
            events: components["schemas"]["EventItem"][];
        };
        /**
         * FigureItem
         * @description A number of a plan with what is needed to ask it "why?"; `number` is in the metric unit of the formula.
         */
        FigureItem: {
            /** Band */
            band: string;
            /** Formula */
            formula: string;
            /** Id */
            id: string;
            /** Inputs */
            inputs: [
                string,
                string
            ][];
            /** Name */
            name: string;
            /** Number */
            number: number;
            /** Source */
            source: string;
            /** Value */
            value: string;
        };
        /**
         * FindingItem
         * @description One statement of a plan, and what would make it go away.
         */
        FindingItem: {
            /** Remedies */
            remedies: string[];
            /** Text */
            text: string;
        };
        /**
         * JobItem
         * @description A job of the book.
         *
         *     Attributes
         *     ----------
         *     newest_version : int
         *         Number of its newest saved version.
         *     events : int
         *         Number of its newest event; 0 while nothing has happened.
         */
        JobItem: {
            /** Day */
            day: string | null;
            /** Events */
            events: number;
            /**
             * Id
             * Format: uuid
             */
            id: string;
            /** Name */
            name: string;
            /** Newest Version */
            newest_version: number;
            /** Reference */
            reference: string;
        };
        /**
         * JobPage
         * @description Jobs, newest first; `next` is given as `after` for those that follow, and null at the end.
         */
        JobPage: {
            /** Jobs */
            jobs: components["schemas"]["JobItem"][];
            /** Next */
            next: string | null;
        };
        /**
         * JobText
         * @description A version of a job with its text as it stands, comments included.
         */
        JobText: {
            /** Number */
            number: number;
            /** Parent */
            parent: number;
            /**
             * Saved At
             * Format: date-time
             */
            saved_at: string;
            /** Sha256 */
            sha256: string;
            /** Text */
            text: string;
        };
        JsonValue: unknown;
        /**
         * PlanSummary
         * @description What a plan says.
         *
         *     Attributes
         *     ----------
         *     outcome : str
         *         fits, fits with conditions, does not fit, cannot say, do not take.
         *     verdict : str
         *         The same as a sentence.
         *     figures : mapping
         *         By the part of the plan: tank, layout, water, living, day, supply.
         *     drawings : tuple of str
         *         Names of its figures, each to be had as SVG.
         */
        PlanSummary: {
            /** Conditions */
            conditions: components["schemas"]["FindingItem"][];
            /** Deciding */
            deciding: components["schemas"]["FindingItem"][];
            /** Drawings */
            drawings: string[];
            /** Figures */
            figures: {
                [key: string]: components["schemas"]["FigureItem"][];
            };
            /**
             * Job
             * Format: uuid
             */
            job: string;
            /** Notes */
            notes: components["schemas"]["FindingItem"][];
            /** Outcome */
            outcome: string;
            /** Verdict */
            verdict: string;
            /** Version */
            version: number;
        };
        /**
         * Problem
         * @description What the API answers when it refuses.
         *
         *     Attributes
         *     ----------
         *     status : int
         *         The HTTP status again, for logs that keep the body only.
         *     message : str
         *         One sentence for the person in front of the screen.
         */
        Problem: {
            /** Message */
            message: string;
            /** Status */
            status: number;
        };
        /**
         * RefusedItem
         * @description An event that is not in the book, with a sentence why.
         */
        RefusedItem: {
            /**
             * Id
             * Format: uuid
             */
            id: string;
            /** Message */
            message: string;
            /** Reason */
            reason: string;
        };
        /**
         * State
         * @description Where a task stands.
         * @enum {string}
         */
        State: "waiting" | "running" | "done" | "failed" | "cancelled" | "broken";
        /**
         * Task
         * @description Long work.
         *
         *     Attributes
         *     ----------
         *     doing : str
         *         What it is at, in words.
         *     fault : str or None
         *         Why nothing came out.
         */
        Task: {
            /** Doing */
            doing: string;
            /** Fault */
            fault: string | null;
            /**
             * Id
             * Format: uuid
             */
            id: string;
            /** Job */
            job: string | null;
            state: components["schemas"]["State"];
            /** Stopping */
            stopping: boolean;
        };
        /**
         * VersionItem
         * @description A saved version of a job: never changed, never left out.
         */
        VersionItem: {
            /** Number */
            number: number;
            /** Parent */
            parent: number;
            /**
             * Saved At
             * Format: date-time
             */
            saved_at: string;
            /** Sha256 */
            sha256: string;
        };
    };
    responses: never;
    parameters: never;
    requestBodies: never;
    headers: never;
    pathItems: never;
}
export type $defs = Record<string, never>;
export interface operations {
    list_jobs_api_jobs_get: {
        parameters: {
            query?: {
                limit?: number;
                after?: string | null;
            };
            header?: never;
            path?: never;
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["JobPage"];
                };
            };
            /** @description Cannot be read. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Nobody is signed in. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Sent from a page of another site, or not for those who are signed in so. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Somebody else was first. */
            409: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Cannot be used as it stands. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
        };
    };
    get_job_api_jobs__job_id__get: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                job_id: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["JobItem"];
                };
            };
            /** @description Cannot be read. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Nobody is signed in. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Sent from a page of another site, or not for those who are signed in so. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Somebody else was first. */
            409: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Cannot be used as it stands. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
        };
    };
    list_events_api_jobs__job_id__events_get: {
        parameters: {
            query?: {
                after?: number;
                limit?: number;
            };
            header?: never;
            path: {
                job_id: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["EventPage"];
                };
            };
            /** @description Cannot be read. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Nobody is signed in. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Sent from a page of another site, or not for those who are signed in so. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Somebody else was first. */
            409: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Cannot be used as it stands. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
        };
    };
    append_events_api_jobs__job_id__events_post: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                job_id: string;
            };
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": components["schemas"]["Event"][];
            };
        };
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Appended"];
                };
            };
            /** @description Cannot be read. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Nobody is signed in. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Sent from a page of another site, or not for those who are signed in so. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Somebody else was first. */
            409: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Cannot be used as it stands. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
        };
    };
    list_versions_api_jobs__job_id__versions_get: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                job_id: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["VersionItem"][];
                };
            };
            /** @description Cannot be read. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Nobody is signed in. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Sent from a page of another site, or not for those who are signed in so. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Somebody else was first. */
            409: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Cannot be used as it stands. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
        };
    };
    get_version_api_jobs__job_id__versions__number__get: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                job_id: string;
                number: number;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["JobText"];
                };
            };
            /** @description Cannot be read. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Nobody is signed in. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Sent from a page of another site, or not for those who are signed in so. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Somebody else was first. */
            409: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Cannot be used as it stands. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
        };
    };
    get_drawing_api_jobs__job_id__versions__number__drawings__name__get: {
        parameters: {
            query?: {
                units?: "metric" | "us";
            };
            header?: never;
            path: {
                job_id: string;
                number: number;
                name: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "image/svg+xml": unknown;
                };
            };
            /** @description Cannot be read. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Nobody is signed in. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Sent from a page of another site, or not for those who are signed in so. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Somebody else was first. */
            409: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Cannot be used as it stands. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
        };
    };
    get_plan_api_jobs__job_id__versions__number__plan_get: {
        parameters: {
            query?: {
                units?: "metric" | "us";
            };
            header?: never;
            path: {
                job_id: string;
                number: number;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["PlanSummary"];
                };
            };
            /** @description Cannot be read. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Nobody is signed in. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Sent from a page of another site, or not for those who are signed in so. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Somebody else was first. */
            409: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Cannot be used as it stands. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
        };
    };
    make_plan_api_jobs__job_id__versions__number__plan_post: {
        parameters: {
            query?: {
                units?: "metric" | "us";
            };
            header?: never;
            path: {
                job_id: string;
                number: number;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            202: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Task"];
                };
            };
            /** @description Cannot be read. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Nobody is signed in. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Sent from a page of another site, or not for those who are signed in so. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Somebody else was first. */
            409: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Cannot be used as it stands. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
        };
    };
    get_task_api_tasks__task_id__get: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                task_id: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Task"];
                };
            };
            /** @description Cannot be read. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Nobody is signed in. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Sent from a page of another site, or not for those who are signed in so. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Somebody else was first. */
            409: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Cannot be used as it stands. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
        };
    };
    cancel_task_api_tasks__task_id__cancel_post: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                task_id: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Task"];
                };
            };
            /** @description Cannot be read. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Nobody is signed in. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Sent from a page of another site, or not for those who are signed in so. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Somebody else was first. */
            409: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Cannot be used as it stands. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
        };
    };
    restart_task_api_tasks__task_id__restart_post: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                task_id: string;
            };
            cookie?: never;
        };
        requestBody?: never;
        responses: {
            /** @description Successful Response */
            202: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Task"];
                };
            };
            /** @description Cannot be read. */
            400: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Nobody is signed in. */
            401: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Sent from a page of another site, or not for those who are signed in so. */
            403: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description There is no such thing. */
            404: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Somebody else was first. */
            409: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Too large. */
            413: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
            /** @description Cannot be used as it stands. */
            422: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["Problem"];
                };
            };
        };
    };
}
