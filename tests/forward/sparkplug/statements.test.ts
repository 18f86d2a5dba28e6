/**
 * The normative statements of Sparkplug 3.0 that concern an edge node with devices, one row each, judged on what went over the
 * wire to a real broker. Payloads are read by the decoder of another implementation. Needs mosquitto.
 *
 * Ids and wording (here in our words) follow the public text of the specification and of the list of assertions of its
 * compatibility kit, drafts of 2021 and 2022; rows marked * are from memory of the final text. Chapters are of the
 * specification: 4 topics, 5 behaviour, 6 payloads. The rows that ask something of a primary host are in primary-host.test.ts.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { hasMosquitto, WITHOUT_MOSQUITTO } from '../../support/heard-broker.js';
import { judgeScene, metricsOf, of } from './judgement.js';
import { playScene } from './scene.js';
import { BEHAVIOUR } from './statements-behaviour.js';
import { PAYLOADS } from './statements-payloads.js';
import { TOPICS } from './statements-topics.js';

if (!hasMosquitto()) it(WITHOUT_MOSQUITTO, () => console.warn(WITHOUT_MOSQUITTO));
else
  describe('Sparkplug 3.0, statement by statement', () => {
    beforeAll(async () => {
      judgeScene(await playScene());
    }, 60_000);
    it.each([...TOPICS, ...BEHAVIOUR, ...PAYLOADS])('chapter %d, %s: %s', (_chapter, _id, _says, judge) =>
      judge(),
    );
    it('numbers beyond 32 bits arrive', () => {
      const rows = metricsOf(of('DDATA')).filter(({ value }) => value === 2 ** 33 + 5);
      expect(rows).toHaveLength(1);
    });
  });
