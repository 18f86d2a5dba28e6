/** Questions of the HTTP interface to the main thread. */
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { toError, toFault } from '../../src/cli/web/fault.js';
import { MainCalls } from '../../src/cli/web/main-calls.js';
import type { Ask } from '../../src/cli/web/protocol.js';

let asked: Ask[];
let calls: MainCalls;
beforeEach(() => {
  vi.useFakeTimers();
  asked = [];
  calls = new MainCalls((ask) => asked.push(ask));
});
afterEach(() => vi.useRealTimers());

describe('a question', () => {
  it('is answered by its number, in any order', async () => {
    const [first, second] = [calls.ask('backup', '/a'), calls.ask('backup', '/b')];
    calls.take({ kind: 'answer', id: asked[1]!.id, ok: true, value: { bytes: 2 } });
    calls.take({ kind: 'answer', id: asked[0]!.id, ok: true, value: { bytes: 1 } });
    expect([await first, await second]).toEqual([{ bytes: 1 }, { bytes: 2 }]);
  });

  it('is refused with message, code and hint of the other thread', async () => {
    const answer = calls.ask('backup', '/a');
    const error = Object.assign(new Error('It is there already.'), { code: 'exists', hint: 'Take another.' });
    calls.take({ kind: 'answer', id: asked[0]!.id, ok: false, fault: structuredClone(toFault(error)) });
    await expect(answer).rejects.toMatchObject({
      ...{ message: 'It is there already.', code: 'exists', hint: 'Take another.' },
    });
    expect(toError(toFault('odd'))).toMatchObject({ message: 'odd' });
  });

  it('about how it stands is given up after two seconds, one that waits for a commit is not', async () => {
    const standing = calls.ask('standing', null);
    const told = expect(standing).rejects.toMatchObject({ code: 'no-answer' });
    const backup = calls.ask('backup', '/a');
    await vi.advanceTimersByTimeAsync(2_000);
    await told;
    calls.take({ kind: 'answer', id: asked[1]!.id, ok: true, value: { bytes: 1 } });
    expect(await backup).toEqual({ bytes: 1 });
  });

  it('is not even put when a thousand wait, until answers come, late ones too', async () => {
    const answers = Array.from({ length: 1_024 }, () => calls.ask('figures', null).catch(() => null));
    await vi.advanceTimersByTimeAsync(2_000);
    await Promise.all(answers);
    await expect(calls.ask('standing', null)).rejects.toMatchObject({ code: 'no-answer' });
    expect(asked).toHaveLength(1_024);
    calls.take({ kind: 'answer', id: asked[0]!.id, ok: true, value: null });
    void calls.ask('standing', null).catch(() => null);
    expect(asked).toHaveLength(1_025);
  });
});
