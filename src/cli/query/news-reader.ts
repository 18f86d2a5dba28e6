/** What the notifier reads, on a thread of its own: a long answer to somebody else holds up no message about an alarm. */
import type { News } from '../../store/read-news.js';
import { QueryLane } from './lane.js';

const WAITING_MOST = 16;

export interface NewsReader {
  readKept(): Promise<string | null>;
  readHead(at: number): Promise<number>;
  readAfter(id: number, limit: number): Promise<News>;
  readEntries(ids: readonly number[]): Promise<News>;
  close(): Promise<void>;
}

/** Each rejects with `QueryError`. */
export function openNewsReader(dataDir: string): NewsReader {
  const lane = new QueryLane(dataDir, WAITING_MOST);
  return {
    readKept: () => lane.ask('kept', 'notify'),
    readHead: (at) => lane.ask('journalHead', at),
    readAfter: (id, limit) => lane.ask('journalAfter', { id, limit }),
    readEntries: (ids) => lane.ask('journalEntries', ids),
    close: () => lane.close(),
  };
}
