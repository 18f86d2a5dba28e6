/** Messages as the field may send them, from fit to absurd. */
import fc from 'fast-check';

/** Values that a field may meet: fit ones, nearly fit ones, and anything. */
const value = fc.oneof(
  { weight: 4, arbitrary: fc.constantFrom(0, 1, 48_211, Number.MAX_SAFE_INTEGER, 1_772_431_210_000) },
  { weight: 2, arbitrary: fc.constantFrom(-1, -0, 0.5, 2 ** 53, 1e300, -1e300, Infinity, Number.NaN) },
  {
    weight: 4,
    arbitrary: fc.constantFrom(
      'running',
      'stopped',
      'Running',
      'DS-20417',
      '',
      'x'.repeat(64),
      'x'.repeat(65),
    ),
  },
  {
    weight: 2,
    arbitrary: fc.constantFrom('2026-03-02T06:10:10Z', '2026-02-30T00:00:00Z', '2026-03-02T06:10:10'),
  },
  { weight: 2, arbitrary: fc.constantFrom('a\0b', '\ud800', '😀'.repeat(64), '😀'.repeat(65), 'é') },
  { weight: 3, arbitrary: fc.boolean() },
  { weight: 1, arbitrary: fc.constantFrom(null, undefined, [], {}) },
  { weight: 2, arbitrary: fc.anything() },
);

function message(fields: readonly string[], required: Record<string, unknown>) {
  const record = Object.fromEntries([...fields, 'unknown_field'].map((name) => [name, value]));
  const wild = fc.record(record, { requiredKeys: [] });
  // One or two odd fields beside fit ones reach the later checks, which a wholly wild message seldom does.
  const mild = fc
    .array(fc.tuple(fc.constantFrom(...fields), value), { maxLength: 3 })
    .map((odd): Record<string, unknown> => ({ ...required, ...Object.fromEntries(odd) }));
  return fc.oneof(
    { weight: 4, arbitrary: mild },
    { weight: 3, arbitrary: wild },
    { weight: 1, arbitrary: fc.anything() },
  );
}

/** Readings, right and wrong. */
export const readings = message(
  ['device', 'count', 'at', 'seq', 'boot', 'up_ms', 'temperature_c', 'supply_v', 'check'],
  { device: 'DS-20417', count: 48_211, at: 1_772_431_210_000, seq: 12, boot: 3, up_ms: 120_000 },
);
/** Drive states, right and wrong. */
export const driveStates = message(
  ['state', 'at', 'since', 'modulating', 'speed_rpm', 'load_pct', 'switching_khz', 'dc_link_v'],
  { state: 'running', at: 1_772_431_210_000, since: '2026-03-02T05:57:52.400Z', speed_rpm: 1478 },
);
