/** Logins without a server: sessions, limits, and another configuration while somebody is in. */
import { beforeEach, describe, expect, it } from 'vitest';
import { isStillAdmitted } from '../../src/api/admission.js';
import { OPEN_ACCESS, type Access } from '../../src/api/access.js';
import { LoginDesk } from '../../src/api/login-desk.js';
import { LoginLimit } from '../../src/api/login-limit.js';
import { Sessions } from '../../src/api/sessions.js';
import { NOW } from './fake-gateway.js';

const ACCESS: Access = {
  ...OPEN_ACCESS,
  users: [
    { name: 'op', role: 'operate', secret: 'op-secret' },
    { name: 'eng', role: 'engineer', secret: 'eng-secret' },
  ],
};

let desk: LoginDesk;
beforeEach(() => {
  desk = new LoginDesk(ACCESS);
});

describe('another configuration', () => {
  const without = (name: string) => ACCESS.users!.filter((user) => user.name !== name);

  it('that comes while a password is looked at lets nobody in under the old one', async () => {
    const asked = desk.login('op', 'op-secret', '10.0.0.7', NOW);
    desk.changeUsers(without('op'));
    expect(await asked).toMatchObject({ ok: false });
    expect(await desk.login('op', 'op-secret', '10.0.0.7', NOW)).toMatchObject({
      ok: false,
      reason: 'wrong',
    });
  });

  it('and a logout end the right to a stream that is open', () => {
    const visitor = { name: 'op', role: 'operate' } as const;
    const stands = (cookie: string) => {
      const headers = cookie === '' ? { authorization: `Basic ${btoa('op:op-secret')}` } : { cookie };
      return isStillAdmitted({ visitor, headers }, ACCESS, desk, NOW);
    };
    const { token } = desk.openSession(visitor, NOW);
    const cookie = `tallypost_session=${token}`;
    expect([stands(cookie), stands('')]).toEqual([true, true]);
    desk.sessions.close(token);
    expect([stands(cookie), stands('')]).toEqual([false, true]);
    desk.changeUsers(without('op'));
    expect(stands('')).toBe(false);
  });
});

describe('bounds', () => {
  it('of a user’s sessions there are at most 16, and the oldest makes room', () => {
    const sessions = new Sessions();
    const visitor = { name: 'op', role: 'operate' as const };
    const tokens = Array.from({ length: 17 }, () => sessions.open(visitor, NOW + 1_000));
    expect(new Set(tokens).size).toBe(17);
    expect(sessions.find(tokens[0]!, NOW)).toBeNull();
    expect(sessions.find(tokens[1]!, NOW)?.visitor).toEqual(visitor);
    expect(sessions.find(tokens[16]!, NOW + 1_001)).toBeNull();
  });

  it('failed logins are counted by name across addresses too, within bounds', () => {
    const limit = new LoginLimit();
    for (let i = 0; i < 30; i++) limit.fail('op', `10.0.0.${i}`, NOW + i);
    expect(limit.waitS('op', '10.0.1.1', NOW + 30)).toBeGreaterThan(0);
    expect(limit.waitS('eng', '10.0.1.1', NOW + 30)).toBe(0);
    for (let i = 0; i < 3_000; i++) limit.fail(`name ${i}`, 'x', NOW);
    expect(limit.waitS('op', '10.0.1.1', NOW + 30)).toBe(0);
  });
});
