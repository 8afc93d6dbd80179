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
    "/api/jobs/{job_id}/layout": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Get Layout
         * @description The draft of a job's layout, or what it would begin from.
         */
        get: operations["get_layout_api_jobs__job_id__layout_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/layout/cleaning": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Layout Cleaning
         * @description The glass that a hand cannot clean, and tips near it.
         */
        get: operations["layout_cleaning_api_jobs__job_id__layout_cleaning_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/layout/edits": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Change Layout
         * @description Do some acts as one step, all or none; 409 where somebody else has changed the draft meanwhile.
         */
        post: operations["change_layout_api_jobs__job_id__layout_edits_post"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/layout/figures": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Layout Figures
         * @description Litres, planting area and mass of the draft, and what is wrong with it.
         */
        get: operations["layout_figures_api_jobs__job_id__layout_figures_get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/layout/proposals": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Propose Layouts
         * @description Have layouts proposed from the pieces on hand as long work; locked ones stay where they are.
         */
        post: operations["propose_layouts_api_jobs__job_id__layout_proposals_post"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/layout/redo": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Redo Layout
         * @description Go forward by a step that was undone.
         */
        post: operations["redo_layout_api_jobs__job_id__layout_redo_post"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/layout/settle": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Settle Layout
         * @description Have the draft settled as long work.
         */
        post: operations["settle_layout_api_jobs__job_id__layout_settle_post"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/layout/undo": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Undo Layout
         * @description Go one step back.
         */
        post: operations["undo_layout_api_jobs__job_id__layout_undo_post"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/layout/versions": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Layout Versions
         * @description Saved versions, the newest first.
         */
        get: operations["layout_versions_api_jobs__job_id__layout_versions_get"];
        put?: never;
        /**
         * Save Layout
         * @description Save the draft as a new version.
         */
        post: operations["save_layout_api_jobs__job_id__layout_versions_post"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/layout/versions/{number}/back": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Take Layout Back
         * @description Take a saved version into the draft.
         */
        post: operations["take_layout_back_api_jobs__job_id__layout_versions__number__back_post"];
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/layout/work/{task_id}": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        /**
         * Layout Outcome
         * @description What came of settling or proposing; 404 until it has ended well.
         */
        get: operations["layout_outcome_api_jobs__job_id__layout_work__task_id__get"];
        put?: never;
        post?: never;
        delete?: never;
        options?: never;
        head?: never;
        patch?: never;
        trace?: never;
    };
    "/api/jobs/{job_id}/layout/work/{task_id}/take": {
        parameters: {
            query?: never;
            header?: never;
            path?: never;
            cookie?: never;
        };
        get?: never;
        put?: never;
        /**
         * Take Layout
         * @description Take one of them into the draft.
         */
        post: operations["take_layout_api_jobs__job_id__layout_work__task_id__take_post"];
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
         * BedItem
         * @description The surface of the bed for the screen: heights row by row, x first.
         *
         *     Attributes
         *     ----------
         *     mark : str
         *         The same as long as the bed is.
         */
        BedItem: {
            /** Mark */
            mark: string;
            /** Top M */
            top_m: string;
            /** X M */
            x_m: number[];
            /** Y M */
            y_m: number[];
        };
        /**
         * Changes
         * @description Acts that are one step; `bed` is the mark of the bed that the caller has.
         */
        Changes: {
            /**
             * Bed
             * @default
             */
            bed: string;
            /** Edits */
            edits: (components["schemas"]["Place"] | components["schemas"]["Put"] | components["schemas"]["Lower"] | components["schemas"]["Swap"] | components["schemas"]["TakeOut"] | components["schemas"]["Lock"] | components["schemas"]["Unlock"] | components["schemas"]["Shape"] | components["schemas"]["Rest"] | components["schemas"]["Clear"])[];
            /** Revision */
            revision: number;
        };
        /**
         * Cleaning
         * @description What of the glass a hand can clean.
         */
        Cleaning: {
            /** Cell M */
            cell_m: number;
            /** Panes */
            panes: components["schemas"]["Pane"][];
            /** Remarks */
            remarks: string[];
            /** Revision */
            revision: number;
            /** Told */
            told: string;
        };
        /**
         * Clear
         * @description All pieces but locked ones back to those on hand.
         */
        Clear: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            act: "clear";
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
         * FigureLine
         * @description A figure in the reader's units.
         */
        FigureLine: {
            /** Id */
            id: string;
            /** Name */
            name: string;
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
         * GlassItem
         * @description The inside of the tank; metres, x to the right, y to the rear, z up.
         */
        GlassItem: {
            /** Corners M */
            corners_m: [
                number,
                number
            ][];
            /** Height M */
            height_m: number;
            /** Public Sides */
            public_sides: ("front" | "rear" | "left" | "right")[];
            /** Wall M */
            wall_m: number;
            /** Water Line M */
            water_line_m: number;
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
         * LayoutFigures
         * @description What the draft comes to; `revision` says which.
         */
        LayoutFigures: {
            /** Lines */
            lines: components["schemas"]["FigureLine"][];
            /** Remarks */
            remarks: string[];
            /** Revision */
            revision: number;
        };
        /**
         * LayoutState
         * @description What changes from touch to touch; `bed` is null where it is as the caller has it.
         */
        LayoutState: {
            /** Based On */
            based_on: number;
            bed: components["schemas"]["BedItem"] | null;
            /** Can Redo */
            can_redo: boolean;
            /** Can Undo */
            can_undo: boolean;
            /** Notes */
            notes: string[];
            /** Placements */
            placements: components["schemas"]["PlacedItem"][];
            /** Revision */
            revision: number;
        };
        /**
         * Lock
         * @description A placed piece that proposals leave where it is.
         */
        Lock: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            act: "lock";
            /** Number */
            number: number;
        };
        /**
         * Lower
         * @description A placed piece lowered onto what is below it, without turning, and pressed into the soil.
         */
        Lower: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            act: "lower";
            /**
             * Burial Share
             * @default 0.12
             */
            burial_share: number;
            /** Number */
            number: number;
        };
        /**
         * Outcome
         * @description What came of settling (one way) or of proposing; `revision` is that of the draft it was asked of.
         */
        Outcome: {
            /** Revision */
            revision: number;
            /** Told */
            told: string[];
            /** Ways */
            ways: components["schemas"]["Way"][];
        };
        /**
         * Pane
         * @description Glass that a hand cannot clean: middles of squares on the pane, three floats each, as base64.
         */
        Pane: {
            /** At M */
            at_m: string;
            /** Number */
            number: number;
            /** Unclean Share */
            unclean_share: number;
        };
        /**
         * PieceItem
         * @description A piece on hand, with a mesh for the screen in its own frame.
         *
         *     Attributes
         *     ----------
         *     vertices_m : str
         *         Three floats a corner, as base64.
         *     faces : str
         *         Three whole numbers of 16 bits a triangle, as base64.
         *     centre_m : tuple of float
         *         About which it is turned.
         */
        PieceItem: {
            /** Centre M */
            centre_m: [
                number,
                number,
                number
            ];
            /** Faces */
            faces: string;
            /** Key */
            key: string;
            /**
             * Kind
             * @enum {string}
             */
            kind: "stone" | "wood";
            /** Look */
            look: string;
            /** Mass Kg */
            mass_kg: number;
            /** Material */
            material: string;
            /** Name */
            name: string;
            /** Size M */
            size_m: [
                number,
                number,
                number
            ];
            /** Stand In */
            stand_in: boolean;
            /** Vertices M */
            vertices_m: string;
        };
        /**
         * Place
         * @description A piece on hand set into the tank with its centre over a point, and lowered; it gets the next free number.
         */
        Place: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            act: "place";
            /**
             * Burial Share
             * @default 0.12
             */
            burial_share: number;
            /** Piece */
            piece: string;
            /** X M */
            x_m: number;
            /** Y M */
            y_m: number;
        };
        /**
         * PlacedItem
         * @description Where a piece stands: a corner p of its mesh lies at turn(p) + position; angles are turn, lean, tip.
         */
        PlacedItem: {
            /** Angles Deg */
            angles_deg: [
                number,
                number,
                number
            ];
            /** Centre M */
            centre_m: [
                number,
                number,
                number
            ];
            /** High M */
            high_m: number;
            /** Locked */
            locked: boolean;
            /** Low M */
            low_m: number;
            /** Number */
            number: number;
            /** Piece */
            piece: string;
            /** Position M */
            position_m: [
                number,
                number,
                number
            ];
            /** Turn */
            turn: [
                number,
                number,
                number,
                number
            ];
        };
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
         * Put
         * @description A placed piece put exactly so.
         */
        Put: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            act: "put";
            /** Number */
            number: number;
            /** Position M */
            position_m: [
                number,
                number,
                number
            ];
            /** Turn */
            turn: [
                number,
                number,
                number,
                number
            ];
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
         * Rest
         * @description The soil slides until no slope is steeper than its angle of repose; what stands in it holds it.
         */
        Rest: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            act: "rest";
        };
        /**
         * SavedItem
         * @description A saved version.
         */
        SavedItem: {
            /** Number */
            number: number;
            /** Saved At */
            saved_at: string;
            /** Title */
            title: string;
        };
        /**
         * Saving
         * @description A version to be saved.
         */
        Saving: {
            /**
             * Bed
             * @default
             */
            bed: string;
            /** Revision */
            revision: number;
            /**
             * Title
             * @default
             */
            title: string;
        };
        /**
         * Scene
         * @description All that a screen needs to show a layout.
         */
        Scene: {
            glass: components["schemas"]["GlassItem"];
            /** Pieces */
            pieces: components["schemas"]["PieceItem"][];
            state: components["schemas"]["LayoutState"];
        };
        /**
         * Shape
         * @description One stroke over the bed.
         */
        Shape: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            act: "shape";
            /**
             * Edge M
             * @default 0
             */
            edge_m: number;
            /**
             * Height M
             * @default 0.01
             */
            height_m: number;
            /** Line M */
            line_m: [
                number,
                number
            ][];
            /**
             * Radius M
             * @default 0.1
             */
            radius_m: number;
            /**
             * Stroke
             * @enum {string}
             */
            stroke: "raise" | "lower" | "smooth" | "ridge" | "mound" | "gable";
        };
        /**
         * State
         * @description Where a task stands.
         * @enum {string}
         */
        State: "waiting" | "running" | "done" | "failed" | "cancelled" | "broken";
        /**
         * Step
         * @description The draft that is meant, and the bed that the caller has.
         */
        Step: {
            /**
             * Bed
             * @default
             */
            bed: string;
            /** Revision */
            revision: number;
        };
        /**
         * Swap
         * @description Another piece on hand in the place of a placed one, centre over centre, and lowered.
         */
        Swap: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            act: "swap";
            /**
             * Burial Share
             * @default 0.12
             */
            burial_share: number;
            /** Number */
            number: number;
            /** Piece */
            piece: string;
        };
        /**
         * TakeOut
         * @description A placed piece back to those on hand.
         */
        TakeOut: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            act: "take_out";
            /** Number */
            number: number;
        };
        /**
         * Taking
         * @description Which of them to take, counted from 1.
         */
        Taking: {
            /**
             * Bed
             * @default
             */
            bed: string;
            /**
             * Number
             * @default 1
             */
            number: number;
            /** Revision */
            revision: number;
        };
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
         * Unlock
         * @description A placed piece that proposals may move again.
         */
        Unlock: {
            /**
             * @description discriminator enum property added by openapi-typescript
             * @enum {string}
             */
            act: "unlock";
            /** Number */
            number: number;
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
        /**
         * Way
         * @description A layout to pick from, counted from 1; `percent` of what could be is null where nothing was scored.
         */
        Way: {
            /** Number */
            number: number;
            /** Percent */
            percent: number | null;
            /** Placements */
            placements: components["schemas"]["PlacedItem"][];
            /** Reasons */
            reasons: string[];
        };
        /**
         * Wish
         * @description What proposals are to be like; the same seed, the same answer.
         */
        Wish: {
            /**
             * Intent
             * @default open_middle
             * @enum {string}
             */
            intent: "one_end" | "diagonal" | "island" | "open_middle" | "path";
            /** Revision */
            revision: number;
            /**
             * Seed
             * @default 1
             */
            seed: number;
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
    get_layout_api_jobs__job_id__layout_get: {
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
                    "application/json": components["schemas"]["Scene"];
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
    layout_cleaning_api_jobs__job_id__layout_cleaning_get: {
        parameters: {
            query?: {
                units?: "metric" | "us";
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
                    "application/json": components["schemas"]["Cleaning"];
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
    change_layout_api_jobs__job_id__layout_edits_post: {
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
                "application/json": components["schemas"]["Changes"];
            };
        };
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["LayoutState"];
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
    layout_figures_api_jobs__job_id__layout_figures_get: {
        parameters: {
            query?: {
                units?: "metric" | "us";
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
                    "application/json": components["schemas"]["LayoutFigures"];
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
    propose_layouts_api_jobs__job_id__layout_proposals_post: {
        parameters: {
            query?: {
                units?: "metric" | "us";
            };
            header?: never;
            path: {
                job_id: string;
            };
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": components["schemas"]["Wish"];
            };
        };
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
    redo_layout_api_jobs__job_id__layout_redo_post: {
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
                "application/json": components["schemas"]["Step"];
            };
        };
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["LayoutState"];
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
    settle_layout_api_jobs__job_id__layout_settle_post: {
        parameters: {
            query?: {
                units?: "metric" | "us";
            };
            header?: never;
            path: {
                job_id: string;
            };
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": components["schemas"]["Step"];
            };
        };
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
    undo_layout_api_jobs__job_id__layout_undo_post: {
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
                "application/json": components["schemas"]["Step"];
            };
        };
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["LayoutState"];
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
    layout_versions_api_jobs__job_id__layout_versions_get: {
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
                    "application/json": components["schemas"]["SavedItem"][];
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
    save_layout_api_jobs__job_id__layout_versions_post: {
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
                "application/json": components["schemas"]["Saving"];
            };
        };
        responses: {
            /** @description Successful Response */
            201: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["LayoutState"];
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
    take_layout_back_api_jobs__job_id__layout_versions__number__back_post: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                job_id: string;
                number: number;
            };
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": components["schemas"]["Step"];
            };
        };
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["LayoutState"];
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
    layout_outcome_api_jobs__job_id__layout_work__task_id__get: {
        parameters: {
            query?: {
                units?: "metric" | "us";
            };
            header?: never;
            path: {
                job_id: string;
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
                    "application/json": components["schemas"]["Outcome"];
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
    take_layout_api_jobs__job_id__layout_work__task_id__take_post: {
        parameters: {
            query?: never;
            header?: never;
            path: {
                job_id: string;
                task_id: string;
            };
            cookie?: never;
        };
        requestBody: {
            content: {
                "application/json": components["schemas"]["Taking"];
            };
        };
        responses: {
            /** @description Successful Response */
            200: {
                headers: {
                    [name: string]: unknown;
                };
                content: {
                    "application/json": components["schemas"]["LayoutState"];
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
