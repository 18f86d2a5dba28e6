-- What `tallypost sinks prepare` runs where the schema is called tallypost and nothing is there yet.
-- For an administrator who does not let the gateway create its tables. It may be run again; it drops nothing.
CREATE SCHEMA IF NOT EXISTS "tallypost";
CREATE TABLE IF NOT EXISTS "tallypost"."rollups" (
  "site" text COLLATE "C" NOT NULL,
  "sensor" text COLLATE "C" NOT NULL,
  "period" text COLLATE "C" NOT NULL,
  "start" timestamp with time zone NOT NULL,
  "revision" bigint NOT NULL,
  "rate_per_min" double precision,
  "pulses_rejected" bigint NOT NULL,
  "ms_rejected" bigint NOT NULL,
  "pulses_check" bigint NOT NULL,
  "ms_check" bigint NOT NULL,
  "pulses_unattributed" bigint NOT NULL,
  "ms_unattributed" bigint NOT NULL,
  "pulses_transient" bigint NOT NULL,
  "ms_transient" bigint NOT NULL,
  "pulses_common" bigint NOT NULL,
  "ms_common" bigint NOT NULL,
  "pulses_running" bigint NOT NULL,
  "ms_running" bigint NOT NULL,
  "pulses_background" bigint NOT NULL,
  "ms_background" bigint NOT NULL,
  "uncertain_ms" bigint NOT NULL,
  "bins" jsonb NOT NULL,
  "received_at" timestamp with time zone NOT NULL DEFAULT now(),
  PRIMARY KEY ("site", "sensor", "period", "start")
);
COMMENT ON TABLE "tallypost"."rollups" IS 'Sums over a period, one row for each sensor, period and start.';
COMMENT ON COLUMN "tallypost"."rollups"."site" IS 'Name of the site: several gateways may share these tables.';
COMMENT ON COLUMN "tallypost"."rollups"."sensor" IS '<motor>/<position>';
COMMENT ON COLUMN "tallypost"."rollups"."period" IS '1m, 10m or 1h';
COMMENT ON COLUMN "tallypost"."rollups"."start" IS 'Start of the period, UTC.';
COMMENT ON COLUMN "tallypost"."rollups"."revision" IS 'A row is replaced only by a higher one.';
COMMENT ON COLUMN "tallypost"."rollups"."rate_per_min" IS 'Running pulses over running exposure, pulses per minute; null: no running exposure, which is not zero.';
COMMENT ON COLUMN "tallypost"."rollups"."pulses_rejected" IS 'Pulses of the class rejected.';
COMMENT ON COLUMN "tallypost"."rollups"."ms_rejected" IS 'Exposure of the class rejected, milliseconds.';
COMMENT ON COLUMN "tallypost"."rollups"."pulses_check" IS 'Pulses of the class check.';
COMMENT ON COLUMN "tallypost"."rollups"."ms_check" IS 'Exposure of the class check, milliseconds.';
COMMENT ON COLUMN "tallypost"."rollups"."pulses_unattributed" IS 'Pulses of the class unattributed.';
COMMENT ON COLUMN "tallypost"."rollups"."ms_unattributed" IS 'Exposure of the class unattributed, milliseconds.';
COMMENT ON COLUMN "tallypost"."rollups"."pulses_transient" IS 'Pulses of the class transient.';
COMMENT ON COLUMN "tallypost"."rollups"."ms_transient" IS 'Exposure of the class transient, milliseconds.';
COMMENT ON COLUMN "tallypost"."rollups"."pulses_common" IS 'Pulses of the class common.';
COMMENT ON COLUMN "tallypost"."rollups"."ms_common" IS 'Exposure of the class common, milliseconds.';
COMMENT ON COLUMN "tallypost"."rollups"."pulses_running" IS 'Pulses of the class running.';
COMMENT ON COLUMN "tallypost"."rollups"."ms_running" IS 'Exposure of the class running, milliseconds.';
COMMENT ON COLUMN "tallypost"."rollups"."pulses_background" IS 'Pulses of the class background.';
COMMENT ON COLUMN "tallypost"."rollups"."ms_background" IS 'Exposure of the class background, milliseconds.';
COMMENT ON COLUMN "tallypost"."rollups"."uncertain_ms" IS 'Milliseconds of any class whose time is uncertain.';
COMMENT ON COLUMN "tallypost"."rollups"."bins" IS 'Running pulses and ms by condition bin; []: all in one bin.';
COMMENT ON COLUMN "tallypost"."rollups"."received_at" IS 'When this revision was stored here, UTC.';
CREATE TABLE IF NOT EXISTS "tallypost"."transients" (
  "site" text COLLATE "C" NOT NULL,
  "motor" text COLLATE "C" NOT NULL,
  "began_at" timestamp with time zone NOT NULL,
  "revision" bigint NOT NULL,
  "withdrawn" boolean NOT NULL,
  "ended_at" timestamp with time zone,
  "edges" bigint,
  "kind" text,
  "counts" jsonb,
  "received_at" timestamp with time zone NOT NULL DEFAULT now(),
  PRIMARY KEY ("site", "motor", "began_at")
);
COMMENT ON TABLE "tallypost"."transients" IS 'A start, a stop, or a merged run of them, guards included.';
COMMENT ON COLUMN "tallypost"."transients"."site" IS 'Name of the site: several gateways may share these tables.';
COMMENT ON COLUMN "tallypost"."transients"."motor" IS 'Whose drive started or stopped.';
COMMENT ON COLUMN "tallypost"."transients"."began_at" IS 'Start of the guard before it, UTC.';
COMMENT ON COLUMN "tallypost"."transients"."revision" IS 'A row is replaced only by a higher one.';
COMMENT ON COLUMN "tallypost"."transients"."withdrawn" IS 'True: later readings showed that it was none; the other columns are null.';
COMMENT ON COLUMN "tallypost"."transients"."ended_at" IS 'End of the guard after it, UTC.';
COMMENT ON COLUMN "tallypost"."transients"."edges" IS 'Changes of state that were merged into it.';
COMMENT ON COLUMN "tallypost"."transients"."kind" IS 'start, stop, start-stop or other';
COMMENT ON COLUMN "tallypost"."transients"."counts" IS 'What each sensor counted in it: [{"sensor", "pulses", "ms"}].';
COMMENT ON COLUMN "tallypost"."transients"."received_at" IS 'When this revision was stored here, UTC.';
CREATE TABLE IF NOT EXISTS "tallypost"."alarms" (
  "site" text COLLATE "C" NOT NULL,
  "id" text COLLATE "C" NOT NULL,
  "revision" bigint NOT NULL,
  "at" timestamp with time zone NOT NULL,
  "motor" text NOT NULL,
  "alarm" text NOT NULL,
  "sensor" text,
  "kind" text NOT NULL,
  "priority" text NOT NULL,
  "state" text NOT NULL,
  "active" boolean NOT NULL,
  "acknowledged" boolean NOT NULL,
  "confirmed" boolean NOT NULL,
  "latched" boolean NOT NULL,
  "since" timestamp with time zone,
  "shelved_until" timestamp with time zone,
  "suppressed_by" text,
  "out_of_service" boolean NOT NULL,
  "held_by" text,
  "grouped_under" text,
  "acknowledged_by" text NOT NULL,
  "note" text NOT NULL,
  "consequence" text NOT NULL,
  "action" text NOT NULL,
  "class" text NOT NULL,
  "time_to_respond_ms" bigint,
  "evidence" jsonb,
  "received_at" timestamp with time zone NOT NULL DEFAULT now(),
  PRIMARY KEY ("site", "id")
);
COMMENT ON TABLE "tallypost"."alarms" IS 'Each alarm as it stands; what led to it is in the journal.';
COMMENT ON COLUMN "tallypost"."alarms"."site" IS 'Name of the site: several gateways may share these tables.';
COMMENT ON COLUMN "tallypost"."alarms"."id" IS '<motor>.<alarm>';
COMMENT ON COLUMN "tallypost"."alarms"."revision" IS 'A row is replaced only by a higher one.';
COMMENT ON COLUMN "tallypost"."alarms"."at" IS 'Of its last change, UTC.';
COMMENT ON COLUMN "tallypost"."alarms"."motor" IS 'Motor, zone or gateway.';
COMMENT ON COLUMN "tallypost"."alarms"."alarm" IS 'Name of the alarm at its motor.';
COMMENT ON COLUMN "tallypost"."alarms"."sensor" IS 'Null: it is not of one sensor.';
COMMENT ON COLUMN "tallypost"."alarms"."kind" IS 'What it is about, such as rate-high.';
COMMENT ON COLUMN "tallypost"."alarms"."priority" IS 'low, medium or high';
COMMENT ON COLUMN "tallypost"."alarms"."state" IS 'As the operator sees it, such as unacknowledged or shelved.';
COMMENT ON COLUMN "tallypost"."alarms"."active" IS 'Whether the condition stands.';
COMMENT ON COLUMN "tallypost"."alarms"."acknowledged" IS 'Whether a person has acknowledged this activation.';
COMMENT ON COLUMN "tallypost"."alarms"."confirmed" IS 'The corrective action was taken; true while none is asked for.';
COMMENT ON COLUMN "tallypost"."alarms"."latched" IS 'It stays after the return until a person resets it.';
COMMENT ON COLUMN "tallypost"."alarms"."since" IS 'Last change of active, UTC; null: never raised.';
COMMENT ON COLUMN "tallypost"."alarms"."shelved_until" IS 'UTC; null: not shelved.';
COMMENT ON COLUMN "tallypost"."alarms"."suppressed_by" IS 'The rule of the design that hides it; null: none.';
COMMENT ON COLUMN "tallypost"."alarms"."out_of_service" IS 'Taken out for maintenance.';
COMMENT ON COLUMN "tallypost"."alarms"."held_by" IS 'Why nothing can be said of the condition now; null: it is looked at.';
COMMENT ON COLUMN "tallypost"."alarms"."grouped_under" IS 'Id of the alarm that stands for it; null: it speaks for itself.';
COMMENT ON COLUMN "tallypost"."alarms"."acknowledged_by" IS 'Empty: nobody has.';
COMMENT ON COLUMN "tallypost"."alarms"."note" IS 'Of the last act of a person.';
COMMENT ON COLUMN "tallypost"."alarms"."consequence" IS 'What happens if nobody acts.';
COMMENT ON COLUMN "tallypost"."alarms"."action" IS 'What the operator is asked to do.';
COMMENT ON COLUMN "tallypost"."alarms"."class" IS 'Alarms that the site treats alike, such as condition.';
COMMENT ON COLUMN "tallypost"."alarms"."time_to_respond_ms" IS 'Within which the action should begin; null: the site states none.';
COMMENT ON COLUMN "tallypost"."alarms"."evidence" IS 'What the last transition was decided on.';
COMMENT ON COLUMN "tallypost"."alarms"."received_at" IS 'When this revision was stored here, UTC.';
CREATE TABLE IF NOT EXISTS "tallypost"."journal" (
  "site" text COLLATE "C" NOT NULL,
  "number" bigint NOT NULL,
  "revision" bigint NOT NULL,
  "at" timestamp with time zone NOT NULL,
  "detected_at" timestamp with time zone NOT NULL,
  "kind" text NOT NULL,
  "subject" text NOT NULL,
  "state_before" text NOT NULL,
  "state_after" text NOT NULL,
  "who" text NOT NULL,
  "text" text NOT NULL,
  "what" text NOT NULL,
  "annunciated" boolean NOT NULL,
  "configuration" text NOT NULL,
  "evidence" jsonb,
  "received_at" timestamp with time zone NOT NULL DEFAULT now(),
  PRIMARY KEY ("site", "number")
);
COMMENT ON TABLE "tallypost"."journal" IS 'What happened, what people did, what the gateway noticed.';
COMMENT ON COLUMN "tallypost"."journal"."site" IS 'Name of the site: several gateways may share these tables.';
COMMENT ON COLUMN "tallypost"."journal"."number" IS 'Of the entry at its gateway.';
COMMENT ON COLUMN "tallypost"."journal"."revision" IS 'A row is replaced only by a higher one.';
COMMENT ON COLUMN "tallypost"."journal"."at" IS 'When it happened, UTC.';
COMMENT ON COLUMN "tallypost"."journal"."detected_at" IS 'When the gateway knew, UTC.';
COMMENT ON COLUMN "tallypost"."journal"."kind" IS 'alarm, operator, notice, configuration or gateway';
COMMENT ON COLUMN "tallypost"."journal"."subject" IS 'Motor, sensor, alarm or gateway.';
COMMENT ON COLUMN "tallypost"."journal"."state_before" IS 'Empty: there is none.';
COMMENT ON COLUMN "tallypost"."journal"."state_after" IS 'Empty: there is none.';
COMMENT ON COLUMN "tallypost"."journal"."who" IS 'Empty: the gateway itself.';
COMMENT ON COLUMN "tallypost"."journal"."text" IS 'The entry in words.';
COMMENT ON COLUMN "tallypost"."journal"."what" IS 'What changed; empty: nothing that has a word of its own.';
COMMENT ON COLUMN "tallypost"."journal"."annunciated" IS 'Whether the operator was told of it.';
COMMENT ON COLUMN "tallypost"."journal"."configuration" IS 'Revision of the configuration in force.';
COMMENT ON COLUMN "tallypost"."journal"."evidence" IS 'What the transition was decided on.';
COMMENT ON COLUMN "tallypost"."journal"."received_at" IS 'When this revision was stored here, UTC.';
CREATE TABLE IF NOT EXISTS "tallypost"."manifests" (
  "site" text COLLATE "C" NOT NULL,
  "sensor" text COLLATE "C" NOT NULL,
  "period" text COLLATE "C" NOT NULL,
  "day" date NOT NULL,
  "revision" bigint NOT NULL,
  "rows" bigint NOT NULL,
  "pulses" bigint NOT NULL,
  "ms" bigint NOT NULL,
  "highest_revision" bigint NOT NULL,
  "received_at" timestamp with time zone NOT NULL DEFAULT now(),
  PRIMARY KEY ("site", "sensor", "period", "day")
);
COMMENT ON TABLE "tallypost"."manifests" IS 'What the gateway says that a day (UTC) of a sensor and period holds.';
COMMENT ON COLUMN "tallypost"."manifests"."site" IS 'Name of the site: several gateways may share these tables.';
COMMENT ON COLUMN "tallypost"."manifests"."sensor" IS '<motor>/<position>';
COMMENT ON COLUMN "tallypost"."manifests"."period" IS '1m, 10m or 1h';
COMMENT ON COLUMN "tallypost"."manifests"."day" IS 'Day of UTC.';
COMMENT ON COLUMN "tallypost"."manifests"."revision" IS 'A row is replaced only by a higher one.';
COMMENT ON COLUMN "tallypost"."manifests"."rows" IS 'Rollups of the day.';
COMMENT ON COLUMN "tallypost"."manifests"."pulses" IS 'Of all seven classes.';
COMMENT ON COLUMN "tallypost"."manifests"."ms" IS 'Of all seven classes, milliseconds.';
COMMENT ON COLUMN "tallypost"."manifests"."highest_revision" IS 'Of its rollups.';
COMMENT ON COLUMN "tallypost"."manifests"."received_at" IS 'When this revision was stored here, UTC.';
CREATE INDEX IF NOT EXISTS rollups_by_start ON "tallypost"."rollups" USING brin (start);
CREATE OR REPLACE VIEW "tallypost"."rollups_newest" AS
SELECT * FROM "tallypost"."rollups";
