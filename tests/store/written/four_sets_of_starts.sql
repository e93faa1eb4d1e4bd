BEGIN TRANSACTION;
CREATE TABLE answer (
                answer_id INTEGER PRIMARY KEY,
                person TEXT NOT NULL,
                night TEXT NOT NULL,
                tier TEXT NOT NULL,
                revision INTEGER NOT NULL,
                kind TEXT NOT NULL,
                given_utc TEXT NOT NULL,
                until_utc TEXT
            ) STRICT
            ;
INSERT INTO "answer" VALUES(1,'Ines','2026-04-12','act',4,'acting','2026-04-13T09:30:00.000000Z',NULL);
CREATE TABLE bud_count (
                block TEXT NOT NULL,
                night TEXT NOT NULL,
                dead INTEGER NOT NULL,
                counted INTEGER NOT NULL,
                PRIMARY KEY (block, night)
            ) STRICT
            ;
CREATE TABLE day_air (
                day TEXT PRIMARY KEY,
                low_c REAL NOT NULL,
                high_c REAL NOT NULL,
                is_measured INTEGER NOT NULL
            ) STRICT
            ;
CREATE TABLE decision (
                decision_id INTEGER PRIMARY KEY,
                decided_utc TEXT NOT NULL,
                night TEXT NOT NULL,
                said TEXT,
                why TEXT NOT NULL,
                detail TEXT NOT NULL
            ) STRICT
            ;
CREATE TABLE fault (
                fault_key TEXT PRIMARY KEY,
                detail TEXT NOT NULL,
                since_utc TEXT NOT NULL,
                told_utc TEXT
            ) STRICT
            ;
CREATE TABLE forecast_run (
                run_id INTEGER PRIMARY KEY,
                source TEXT NOT NULL,
                place TEXT NOT NULL,
                updated_utc TEXT NOT NULL,
                fetched_utc TEXT NOT NULL,
                content TEXT NOT NULL,
                UNIQUE (source, place, updated_utc)
            ) STRICT
            ;
CREATE TABLE gain_night (
                equipment TEXT NOT NULL,
                night TEXT NOT NULL,
                delta_c REAL NOT NULL,
                PRIMARY KEY (equipment, night)
            ) STRICT
            ;
CREATE TABLE mark (
                name TEXT PRIMARY KEY,
                content TEXT NOT NULL
            ) STRICT
            ;
CREATE TABLE migration (name TEXT PRIMARY KEY) STRICT;
INSERT INTO "migration" VALUES('0001-first-form');
INSERT INTO "migration" VALUES('0002-unknown-outcomes-and-told-blocks');
INSERT INTO "migration" VALUES('0003-answers-holds-and-fallbacks');
INSERT INTO "migration" VALUES('0004-attachments');
INSERT INTO "migration" VALUES('0005-readings');
INSERT INTO "migration" VALUES('0006-night-pairs');
INSERT INTO "migration" VALUES('0007-warmth');
INSERT INTO "migration" VALUES('0008-bud-counts');
INSERT INTO "migration" VALUES('0009-gain-nights');
CREATE TABLE night_history (
                night TEXT PRIMARY KEY,
                content TEXT NOT NULL
            ) STRICT
            ;
INSERT INTO "night_history" VALUES('2026-04-12','{"told": "act", "said": "act", "told_blocks": ["Apricots", "Cherries"], "told_low_c": -3.5, "told_running_by_utc": null, "stop_utc": null, "clear_cycles": 0, "last_forecast_utc": null, "revision": 5, "said_revision": 4, "episode": "2026-04-12", "called_turn": 1, "called_utc": "2026-04-13T09:30:00.000000Z", "raise_cycles": 0, "cannot_judge_told_utc": null, "cannot_judge_revision": 0, "is_blind": false, "is_closed": false, "hands_since_utc": "2026-04-12T21:00:00.000000Z", "start_since_utc": "2026-04-13T07:00:00.000000Z", "told_starts": [["Heaters", "Cherries"], ["Lane line", "Apricots"], ["Sheets", "Beds"]], "taken_back": [["Heaters", "Cherries"]], "called_again": [["Lane line", "Apricots"]], "called_starts": [["Lane line", "Apricots"]]}');
INSERT INTO "night_history" VALUES('2026-04-13','{"told": "outlook", "said": "outlook", "told_blocks": [], "told_low_c": null, "told_running_by_utc": null, "stop_utc": null, "clear_cycles": 0, "last_forecast_utc": null, "revision": 1, "said_revision": 1, "episode": "2026-04-12", "called_turn": 0, "called_utc": null, "raise_cycles": 0, "cannot_judge_told_utc": null, "cannot_judge_revision": 0, "is_blind": false, "is_closed": false, "hands_since_utc": null, "start_since_utc": null, "told_starts": [], "taken_back": [], "called_again": [], "called_starts": []}');
CREATE TABLE night_pair (
                night TEXT NOT NULL,
                source TEXT NOT NULL,
                kind TEXT NOT NULL,
                forecast_low_c REAL NOT NULL,
                observed_low_c REAL NOT NULL,
                version INTEGER NOT NULL,
                PRIMARY KEY (night, source)
            ) STRICT
            ;
CREATE TABLE outbox (
                row_id INTEGER PRIMARY KEY,
                message_key TEXT NOT NULL UNIQUE,
                subject_kind TEXT NOT NULL,
                message_class TEXT NOT NULL,
                night TEXT,
                person TEXT NOT NULL,
                channel TEXT NOT NULL,
                address TEXT NOT NULL,
                subject TEXT NOT NULL,
                body TEXT NOT NULL,
                html TEXT,
                message_id TEXT NOT NULL,
                queued_utc TEXT NOT NULL,
                deadline_utc TEXT NOT NULL,
                state TEXT NOT NULL,
                attempts INTEGER NOT NULL DEFAULT 0,
                next_try_utc TEXT NOT NULL,
                last_try_utc TEXT,
                sent_utc TEXT,
                last_error TEXT,
                provider_id TEXT
            , unknowns INTEGER NOT NULL DEFAULT 0, thread TEXT, held_until_utc TEXT, held_reason TEXT, fallback TEXT, delivered_utc TEXT, attachments TEXT) STRICT
            ;
CREATE TABLE outbox_night (
                row_id INTEGER NOT NULL REFERENCES outbox (row_id) ON DELETE CASCADE,
                night TEXT NOT NULL,
                PRIMARY KEY (row_id, night)
            ) STRICT
            ;
CREATE TABLE reading (
                sensor TEXT NOT NULL,
                at_utc TEXT NOT NULL,
                air_c REAL NOT NULL,
                problem TEXT,
                PRIMARY KEY (sensor, at_utc)
            ) STRICT
            ;
CREATE TABLE sighting (
                block TEXT NOT NULL,
                crop TEXT NOT NULL,
                stage TEXT NOT NULL,
                seen TEXT NOT NULL,
                PRIMARY KEY (block, stage, seen)
            ) STRICT
            ;
CREATE TABLE source_memory (
                source TEXT PRIMARY KEY,
                content TEXT NOT NULL,
                checked_utc TEXT NOT NULL
            ) STRICT
            ;
CREATE INDEX outbox_by_state ON outbox (state, next_try_utc);
CREATE INDEX outbox_night_by_night ON outbox_night (night);
CREATE INDEX answer_by_time ON answer (given_utc);
CREATE INDEX forecast_run_by_time ON forecast_run (updated_utc);
CREATE INDEX outbox_by_sent ON outbox (sent_utc);
CREATE INDEX outbox_by_queued ON outbox (queued_utc);
CREATE INDEX reading_by_time ON reading (at_utc);
COMMIT;
