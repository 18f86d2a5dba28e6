/** Changes written into the text of a file: only what was meant changes, and the result is a configuration still. */
import { describe, expect, it } from 'vitest';
import { changeAlarms } from '../../src/config/alarm-changes.js';
import { parseConfig } from '../../src/config/parse.js';

const TEXT = `site: workshop # ours
templates:
  pump:
    positions: { de: {}, nde: {} }
    alarms:
      rate-high: { setpointPerMin: 120, deadbandPerMin: 20, rationale: as the sisters, onDelayMs: 600000 }
motors:
  pump-{1..4}: # the row at the wall
    template: pump
  fan:
    positions: { de: {} }
`;

function change(...changes: Parameters<typeof changeAlarms>[1]): string {
  const changed = changeAlarms(TEXT, changes);
  if (!changed.ok) throw new Error(changed.problems.join());
  return changed.text;
}

/** Setpoint, deadband and on-delay of each motor's alarm of a kind. */
function settingsOf(text: string, kind = 'rate-high'): Record<string, readonly number[]> {
  const parsed = parseConfig(text, 'test');
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.problems));
  const found = parsed.plan.rateAlarms.filter((each) => each.kind === kind && each.sensor.endsWith('/de'));
  return Object.fromEntries(
    found.map((each) => [each.motor, [each.setpointPerMin, each.deadbandPerMin, each.onDelayMs]]),
  );
}

const AS_IT_WAS = [120, 20, 600_000];

describe('a change by form', () => {
  it('is for the one motor of a row that was meant, and keeps what was not said', () => {
    const text = change({ motor: 'pump-3', kind: 'rate-high', setpointPerMin: 200 });
    expect(settingsOf(text)).toEqual({
      ...{ 'pump-1': AS_IT_WAS, 'pump-2': AS_IT_WAS, 'pump-4': AS_IT_WAS },
      'pump-3': [200, 20, 600_000],
    });
    expect(text).toContain('# ours');
  });

  it('of several motors of a row, and of one twice, comes to all that was said', () => {
    const text = change(
      { motor: 'pump-1', kind: 'rate-high', onDelayMs: 60_000 },
      { motor: 'pump-4', kind: 'rate-high', deadbandPerMin: 5 },
      { motor: 'pump-1', kind: 'rate-high', setpointPerMin: 90 },
    );
    expect(settingsOf(text)).toEqual({
      ...{
        'pump-1': [90, 20, 60_000],
        'pump-2': AS_IT_WAS,
        'pump-3': AS_IT_WAS,
        'pump-4': [120, 5, 600_000],
      },
    });
  });

  it('adds an alarm with its reason where there was none', () => {
    const text = change({ motor: 'fan', kind: 'rate-high-high', setpointPerMin: 500, rationale: 'tried' });
    expect(settingsOf(text, 'rate-high-high')['fan']?.[0]).toBe(500);
  });

  it('leaves the text alone where nothing is changed but the way it is written', () => {
    expect(settingsOf(change())).toEqual(settingsOf(TEXT));
  });

  it('says what it cannot write', () => {
    const missing = changeAlarms(TEXT, [{ motor: 'nobody', kind: 'rate-high', setpointPerMin: 1 }]);
    expect(missing).toEqual({ ok: false, problems: ['The file has no motor "nobody".'] });
    expect(changeAlarms('motors: 7', []).ok).toBe(false);
    expect(changeAlarms('a: [', []).ok).toBe(false);
    const alias = 'x: &x { positions: { de: {} } }\nmotors:\n  fan: *x\n';
    const refused = changeAlarms(alias, [{ motor: 'fan', kind: 'rate-high', setpointPerMin: 1 }]);
    expect(refused.ok ? '' : refused.problems[0]).toContain('change the text of the file');
  });
});
