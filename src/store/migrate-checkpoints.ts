/**
 * Checkpoint records of version 1 become those of version 2: what changes by the hour has a record of its own, what is
 * absent is left out, and the sums of the open ten minutes and hour lack the open minute.
 */

/** Sums of one kind in an open period, less those of the open minute, as a JSON array. */
function listWithoutMinute(period: 1 | 2, kind: 'pulses' | 'ms'): string {
  return `json((SELECT json_group_array(v) FROM (
    SELECT whole.value - part.value AS v
    FROM json_each(checkpoint.json, '$.open[${period}].${kind}') whole
    JOIN json_each(checkpoint.json, '$.open[0].${kind}') part ON part.key = whole.key ORDER BY whole.key)))`;
}

function sumsWithoutMinute(period: 1 | 2): string {
  return `json_object('pulses', ${listWithoutMinute(period, 'pulses')}, 'ms', ${listWithoutMinute(period, 'ms')},
    'uncertainMs', json_extract(json, '$.open[${period}].uncertainMs') - json_extract(json, '$.open[0].uncertainMs'))`;
}

const HOURS_FIELDS = ['day', 'dispersion', 'dispersionUncertain'];
const MOVED = [...HOURS_FIELDS, 'clock', 'tenMinutes', 'hour'].map((field) => `'$.${field}'`).join(', ');
const NO_CLOCK = '{"lastAt":0,"count":0,"least":0,"most":0,"inOrder":0,"off":false}';
const SENSORS = `key LIKE 'sensor:%' AND version = 1`;

export const CHECKPOINTS_TO_VERSION_2: readonly string[] = [
  `INSERT INTO checkpoint SELECT 'hours:' || substr(key, 8), 2, json_object(
    ${HOURS_FIELDS.map((field) => `'${field}', json(json -> '$.${field}')`).join(', ')},
    'clock', json(coalesce(json -> '$.clock', '${NO_CLOCK}')))
    FROM checkpoint WHERE ${SENSORS}`,
  `UPDATE checkpoint SET json = json_set(json, '$.open[1]', ${sumsWithoutMinute(1)}, '$.open[2]', ${sumsWithoutMinute(2)})
    WHERE ${SENSORS} AND json_type(json, '$.open') = 'array'`,
  `UPDATE checkpoint SET json = json_set(json, '$.vote', json_array(json_extract(json, '$.vote.from'), json_extract(json, '$.vote.to')))
    WHERE ${SENSORS} AND json_type(json, '$.vote') = 'object'`,
  ...['vote', 'dirty', 'unsettledFrom'].map(
    (field) =>
      `UPDATE checkpoint SET json = json_remove(json, '$.${field}') WHERE ${SENSORS} AND json_type(json, '$.${field}') = 'null'`,
  ),
  `UPDATE checkpoint SET json = json_remove(json, ${MOVED}) WHERE ${SENSORS}`,
  `UPDATE checkpoint SET version = 2 WHERE version = 1 AND (key = 'core' OR key LIKE 'sensor:%' OR key LIKE 'motor:%')`,
];
