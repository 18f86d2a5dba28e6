/**
 * The tables, and how one version of them becomes the next. STRICT throughout; the big ones are clustered by their key
 * (WITHOUT ROWID), because they are read by sensor and time and must be small.
 */

import { CHECKPOINTS_TO_VERSION_2 } from './migrate-checkpoints.js';

/** Version of the tables below, kept in `user_version`. */
export const SCHEMA_VERSION = 6;

/** Marks a file as one of ours (`application_id` in its header): "tpst". */
export const APPLICATION_ID = 0x74707374;

/** Days are those of UTC: only groups of hours. */
const DAY_MS = 86_400_000;

const CLASSES = [1, 2, 3, 4, 5, 6, 7];

/** Columns of a rollup: pulses and milliseconds of each class. */
export const SUM_COLUMNS: readonly string[] = [
  ...CLASSES.map((c) => `p${c}`),
  ...CLASSES.map((c) => `m${c}`),
  'uncertain_ms',
];

const sums = SUM_COLUMNS.map((name) => `${name} INTEGER NOT NULL`).join(', ');

/** Columns of whatever a person enters. */
const entry = `id INTEGER PRIMARY KEY, motor INTEGER NOT NULL, at INTEGER NOT NULL, entered_at INTEGER NOT NULL,
  entered_by TEXT NOT NULL, note TEXT NOT NULL, withdrawn_at INTEGER, withdrawn_by TEXT, withdrawn_note TEXT`;

/** Statements of each migration, in order; the first makes an empty file version 1. */
export const MIGRATIONS: readonly (readonly string[])[] = [
  [
    `CREATE TABLE name (id INTEGER PRIMARY KEY, text TEXT NOT NULL UNIQUE) STRICT`,
    `CREATE TABLE chain (id INTEGER PRIMARY KEY, sensor INTEGER NOT NULL, device TEXT NOT NULL, boot INTEGER) STRICT`,
    `CREATE INDEX chain_sensor ON chain (sensor)`,
    `CREATE TABLE increment (
      sensor INTEGER NOT NULL, to_ms INTEGER NOT NULL, chain INTEGER NOT NULL, seq INTEGER NOT NULL,
      duration INTEGER NOT NULL, count INTEGER NOT NULL, up_ms INTEGER, pulses INTEGER NOT NULL,
      class INTEGER NOT NULL, reason INTEGER NOT NULL, flags INTEGER NOT NULL,
      PRIMARY KEY (sensor, to_ms, chain, seq)) STRICT, WITHOUT ROWID`,
    // where in time a counter's readings lie, by seq: `part` = seq / 1024; the bounds may be wider than what is there
    `CREATE TABLE chain_part (
      chain INTEGER NOT NULL, part INTEGER NOT NULL, least_to INTEGER NOT NULL, most_to INTEGER NOT NULL,
      PRIMARY KEY (chain, part)) STRICT, WITHOUT ROWID`,
    `CREATE TABLE segment (
      sensor INTEGER NOT NULL, chain INTEGER NOT NULL, start_to INTEGER NOT NULL, start_seq INTEGER NOT NULL,
      first_count INTEGER NOT NULL, last_to INTEGER NOT NULL, last_seq INTEGER NOT NULL, last_count INTEGER NOT NULL,
      wraps INTEGER NOT NULL, modulus INTEGER NOT NULL, opened_by TEXT NOT NULL, unknown_reason TEXT NOT NULL,
      unknown_from INTEGER NOT NULL, unknown_to INTEGER NOT NULL, unknown_low INTEGER NOT NULL, unknown_high INTEGER,
      PRIMARY KEY (chain, start_to, start_seq)) STRICT, WITHOUT ROWID`,
    `CREATE INDEX segment_sensor ON segment (sensor)`,
    `CREATE TABLE drive_message (
      motor INTEGER NOT NULL, at INTEGER NOT NULL, since INTEGER, state TEXT NOT NULL, modulating INTEGER NOT NULL,
      speed_rpm REAL, load_pct REAL, switching_khz REAL, dc_link_v REAL, received_at INTEGER NOT NULL,
      PRIMARY KEY (motor, at)) STRICT, WITHOUT ROWID`,
    `CREATE TABLE drive_presence (
      motor INTEGER NOT NULL, at INTEGER NOT NULL, online INTEGER NOT NULL, PRIMARY KEY (motor, at)) STRICT, WITHOUT ROWID`,
    `CREATE TABLE window_revision (
      sensor INTEGER NOT NULL, start INTEGER NOT NULL, revision INTEGER NOT NULL, PRIMARY KEY (sensor, start)) STRICT, WITHOUT ROWID`,
    ...['rollup_1m', 'rollup_10m', 'rollup_1h'].map(
      (table) =>
        `CREATE TABLE ${table} (sensor INTEGER NOT NULL, start INTEGER NOT NULL, revision INTEGER NOT NULL, ${sums},
          PRIMARY KEY (sensor, start)) STRICT, WITHOUT ROWID`,
    ),
    `CREATE TABLE spread (
      sensor INTEGER NOT NULL, hour INTEGER NOT NULL, pulses INTEGER NOT NULL, ms INTEGER NOT NULL,
      q0 REAL NOT NULL, q1 REAL NOT NULL, q2 REAL NOT NULL, q3 REAL NOT NULL,
      k0 INTEGER NOT NULL, k1 INTEGER NOT NULL, k2 INTEGER NOT NULL, k3 INTEGER NOT NULL,
      PRIMARY KEY (sensor, hour)) STRICT, WITHOUT ROWID`,
    `CREATE TABLE transient (
      motor INTEGER NOT NULL, from_ms INTEGER NOT NULL, to_ms INTEGER NOT NULL, edges INTEGER NOT NULL, kind TEXT NOT NULL,
      counts TEXT NOT NULL, revision INTEGER NOT NULL, PRIMARY KEY (motor, from_ms)) STRICT, WITHOUT ROWID`,
    `CREATE TABLE burst (
      zone INTEGER NOT NULL, motor INTEGER NOT NULL, sensor INTEGER NOT NULL, window INTEGER NOT NULL,
      from_ms INTEGER NOT NULL, to_ms INTEGER NOT NULL, PRIMARY KEY (sensor, from_ms, to_ms)) STRICT, WITHOUT ROWID`,
    `CREATE INDEX burst_zone ON burst (zone, to_ms)`,
    `CREATE TABLE vote (
      zone INTEGER NOT NULL, motor INTEGER NOT NULL, sensor INTEGER NOT NULL, from_ms INTEGER NOT NULL, to_ms INTEGER NOT NULL,
      PRIMARY KEY (sensor, from_ms)) STRICT, WITHOUT ROWID`,
    `CREATE INDEX vote_zone ON vote (zone, to_ms)`,
    `CREATE TABLE alarm (id TEXT PRIMARY KEY, json TEXT NOT NULL) STRICT, WITHOUT ROWID`,
    `CREATE TABLE journal (
      id INTEGER PRIMARY KEY, at INTEGER NOT NULL, detected_at INTEGER NOT NULL, kind TEXT NOT NULL, subject TEXT NOT NULL,
      before TEXT NOT NULL, after TEXT NOT NULL, who TEXT NOT NULL, text TEXT NOT NULL, evidence TEXT) STRICT`,
    `CREATE INDEX journal_at ON journal (at)`,
    `CREATE TABLE diagnostic (
      subject TEXT NOT NULL, kind TEXT NOT NULL, count INTEGER NOT NULL, first_at INTEGER NOT NULL, last_at INTEGER NOT NULL,
      detail TEXT NOT NULL, PRIMARY KEY (subject, kind)) STRICT, WITHOUT ROWID`,
    `CREATE TABLE quarantine (
      id INTEGER PRIMARY KEY, at INTEGER NOT NULL, client TEXT NOT NULL, topic TEXT NOT NULL, reason TEXT NOT NULL,
      size INTEGER NOT NULL, head BLOB NOT NULL) STRICT`,
    `CREATE TABLE checkpoint (key TEXT PRIMARY KEY, version INTEGER NOT NULL, json TEXT NOT NULL) STRICT, WITHOUT ROWID`,
    `CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID`,
  ],
  // what people enter about motors; never deleted, so that ids are never given twice
  [
    `CREATE TABLE maintenance_action (${entry}, action TEXT NOT NULL, place TEXT, bearing TEXT, breaks TEXT NOT NULL) STRICT`,
    `CREATE TABLE finding (${entry}, place TEXT NOT NULL, removed INTEGER NOT NULL, modes TEXT NOT NULL,
      signs TEXT NOT NULL, lubricant TEXT NOT NULL) STRICT`,
  ],
  [
    // temperature in tenths of a degree; bin null: not running, or the bin `all`
    `ALTER TABLE increment ADD COLUMN temperature INTEGER`,
    `ALTER TABLE increment ADD COLUMN bin INTEGER`,
    // of 1 min and 10 min what is not here is in the bin `all`; of 1 h that is written too
    ...['rollup_bin_1m', 'rollup_bin_10m', 'rollup_bin_1h'].map(
      (table) =>
        `CREATE TABLE ${table} (
          sensor INTEGER NOT NULL, start INTEGER NOT NULL, bin INTEGER NOT NULL, pulses INTEGER NOT NULL, ms INTEGER NOT NULL,
          PRIMARY KEY (sensor, start, bin)) STRICT, WITHOUT ROWID`,
    ),
    `INSERT OR IGNORE INTO name (text) VALUES ('all')`,
    `INSERT INTO rollup_bin_1h SELECT sensor, start, (SELECT id FROM name WHERE text = 'all'), p6, m6
      FROM rollup_1h WHERE p6 <> 0 OR m6 <> 0`,
    `ALTER TABLE spread RENAME TO spread_of_all`,
    `CREATE TABLE spread (
      sensor INTEGER NOT NULL, hour INTEGER NOT NULL, bin INTEGER NOT NULL, pulses INTEGER NOT NULL, ms INTEGER NOT NULL,
      q0 REAL NOT NULL, q1 REAL NOT NULL, q2 REAL NOT NULL, q3 REAL NOT NULL,
      k0 INTEGER NOT NULL, k1 INTEGER NOT NULL, k2 INTEGER NOT NULL, k3 INTEGER NOT NULL,
      PRIMARY KEY (sensor, hour, bin)) STRICT, WITHOUT ROWID`,
    `INSERT INTO spread SELECT sensor, hour, (SELECT id FROM name WHERE text = 'all'), pulses, ms, q0, q1, q2, q3, k0, k1, k2, k3
      FROM spread_of_all`,
    `DROP TABLE spread_of_all`,
    ...CHECKPOINTS_TO_VERSION_2,
  ],
  // digest null: written before entries were chained
  [
    `ALTER TABLE journal ADD COLUMN what TEXT NOT NULL DEFAULT ''`,
    `ALTER TABLE journal ADD COLUMN annunciated INTEGER NOT NULL DEFAULT 0`,
    `ALTER TABLE journal ADD COLUMN configuration TEXT NOT NULL DEFAULT ''`,
    `ALTER TABLE journal ADD COLUMN digest BLOB`,
  ],
  // days (UTC) of what rollup_bin_1h holds: comparisons over a year read days, and hours only at the ends
  [
    `CREATE TABLE rollup_bin_1d (
      sensor INTEGER NOT NULL, start INTEGER NOT NULL, bin INTEGER NOT NULL, pulses INTEGER NOT NULL, ms INTEGER NOT NULL,
      PRIMARY KEY (sensor, start, bin)) STRICT, WITHOUT ROWID`,
    `INSERT INTO rollup_bin_1d SELECT sensor, start - start % ${DAY_MS} AS day, bin, sum(pulses), sum(ms)
      FROM rollup_bin_1h GROUP BY sensor, day, bin`,
  ],
  // what is to be forwarded, see outbox-streams.ts and outbox-writer.ts; an entry refers to a stored row
  [
    `CREATE TABLE outbox (
      stream INTEGER NOT NULL, position INTEGER NOT NULL, subject INTEGER NOT NULL, start INTEGER NOT NULL,
      revision INTEGER NOT NULL, at INTEGER NOT NULL, PRIMARY KEY (stream, position)) STRICT, WITHOUT ROWID`,
    // whether a later entry tells of the same; of rollups their revision says so
    `CREATE INDEX outbox_key ON outbox (stream, subject, start, position) WHERE stream >= 4`,
    `CREATE TABLE outbox_head (stream INTEGER PRIMARY KEY, position INTEGER NOT NULL) STRICT`,
    `CREATE TABLE outbox_produced (
      stream INTEGER NOT NULL, subject INTEGER NOT NULL, count INTEGER NOT NULL, PRIMARY KEY (stream, subject)) STRICT, WITHOUT ROWID`,
    `CREATE TABLE manifest_due (
      stream INTEGER NOT NULL, subject INTEGER NOT NULL, day INTEGER NOT NULL, PRIMARY KEY (stream, subject, day)) STRICT, WITHOUT ROWID`,
  ],
];
