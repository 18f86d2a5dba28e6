/** Events on their way to the HTTP interface. */
import { describe, expect, it } from 'vitest';
import type { LiveEvent, LiveNews } from '../../src/api/deps.js';
import { LiveFeed } from '../../src/cli/web/live-feed.js';
import { rate } from '../api/fake-rows.js';

const event: LiveEvent = { kind: 'rate', rate };

function makeFeed(): { feed: LiveFeed; posts: (readonly LiveNews[])[]; settle(this: void): Promise<void> } {
  const posts: (readonly LiveNews[])[] = [];
  return { feed: new LiveFeed((news) => posts.push(news)), posts, settle: () => Promise.resolve() };
}

describe('the feed', () => {
  it('makes one message of what a commit tells', async () => {
    const { feed, posts, settle } = makeFeed();
    for (let i = 0; i < 3; i++) feed.tell(event);
    await settle();
    feed.tell(event);
    await settle();
    expect(posts.map(({ length }) => length)).toEqual([3, 1]);
  });

  it('holds no more than its bound for a thread that takes nothing, and tells it of the gap when it does again', async () => {
    const { feed, posts, settle } = makeFeed();
    for (let i = 0; i < 10_000; i++) {
      feed.tell(event);
      if (i % 100 === 99) await settle();
    }
    const posted = posts.flat().length;
    expect([posted, feed.leftOut]).toEqual([8_192, 10_000 - 8_192]);
    // not yet: it has hardly begun
    feed.took(10);
    feed.tell(event);
    await settle();
    expect(posts.flat()).toHaveLength(posted);
    feed.took(posted - 10);
    feed.tell(event);
    await settle();
    expect(posts.flat().slice(posted)).toEqual([{ kind: 'gap' }, event]);
    // the gap itself was counted as on its way
    feed.took(2);
    for (let i = 0; i < 8_192; i++) feed.tell(event);
    await settle();
    expect(posts.at(-1)).toHaveLength(8_192);
  });

  it('begins anew with another thread', async () => {
    const { feed, posts, settle } = makeFeed();
    for (let i = 0; i < 9_000; i++) feed.tell(event);
    await settle();
    feed.startAnew();
    feed.tell(event);
    await settle();
    expect(posts.at(-1)).toEqual([event]);
  });
});
