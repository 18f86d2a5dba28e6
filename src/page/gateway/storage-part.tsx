/** What the store takes, what is free, and how long records are kept. */
import type { GatewayBody } from '../data/station-bodies.js';
import { FactList } from '../parts/fact-list.js';
import { PartFrame } from './part-frame.js';
import { formatBytes, formatShare } from './byte-words.js';

/** What is kept, in words; other records by their own name. */
const RECORD_WORDS: Readonly<Record<string, string>> = {
  incrementsDays: 'increments',
  windowsDays: 'sums of 10 s',
  minutesDays: 'sums of 1 min',
  tenMinutesDays: 'sums of 10 min',
  hoursDays: 'sums of 1 h',
  journalDays: 'journal',
  quarantineDays: 'messages that could not be used',
  drivesDays: 'messages of drives',
};

/** As the gateway's own sentence: less than a tenth free asks for something. */
const FREE_SHARE_LEAST = 0.1;

export function StoragePart({ storage }: { storage: GatewayBody['storage'] }) {
  const { disk_bytes: disk, free_bytes: free } = storage;
  const isLow = disk !== null && free !== null && free < FREE_SHARE_LEAST * disk;
  const share = formatShare(free, disk);
  return (
    <PartFrame
      name="storage"
      title="Storage"
      kind={free === null ? 'unknown' : isLow ? 'wrong' : 'good'}
      says={storage.says}
    >
      {disk !== null && free !== null && (
        <svg
          class="gateway-disk"
          viewBox="0 0 100 4"
          preserveAspectRatio="none"
          role="img"
          aria-label={`${share ?? ''} of the disk is free`}
        >
          <rect class="gateway-disk-whole" width="100" height="4" />
          <rect
            class={isLow ? 'gateway-disk-used is-low' : 'gateway-disk-used'}
            width={100 * (1 - free / disk)}
            height="4"
          />
        </svg>
      )}
      <FactList
        facts={[
          ['Free', `${formatBytes(free)}${share === null ? '' : ` (${share})`} of ${formatBytes(disk)}`],
          ['Database', formatBytes(storage.database_bytes)],
          ['Write-ahead log', formatBytes(storage.wal_bytes)],
          ['Folder', storage.folder],
          [
            'Kept',
            <ul class="gateway-plain">
              {storage.retention.map(({ records, days }) => (
                <li key={records}>
                  {RECORD_WORDS[records] ?? records}: {days} days
                </li>
              ))}
            </ul>,
          ],
        ]}
      />
    </PartFrame>
  );
}
