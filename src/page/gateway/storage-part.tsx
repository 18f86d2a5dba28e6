/** What the store takes, what is free, and how long records are kept. */
import type { GatewayBody } from '../data/station-bodies.js';
import { FactList } from '../parts/fact-list.js';
import { PartFrame } from './part-frame.js';
import { formatBytes, formatShare } from './byte-words.js';

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
                  {records}: {days} days
                </li>
              ))}
            </ul>,
          ],
        ]}
      />
    </PartFrame>
  );
}
