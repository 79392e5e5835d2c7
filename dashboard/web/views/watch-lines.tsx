/** On the list of levels: which measurements of an asset are due or overdue, and which stop limits are reached. */
import { Link } from 'wouter-preact';
import type { OpenWatchPlan } from '../../contract/watch-plans.ts';
import { dueText } from '../due-text.ts';
import { useApp } from '../state/store.ts';

/** Plans not due for longer than this are not worth a line among the levels. */
const SOON_MS = 3 * 86_400_000;

export function WatchLines({ plans }: { plans: readonly OpenWatchPlan[] }) {
  const { nowMs } = useApp();
  const shown = plans.filter(
    ({ nextDueMs, reached }) => reached.length > 0 || nextDueMs - nowMs.value < SOON_MS,
  );
  if (shown.length === 0) return null;
  return (
    <ul class="flags watch-lines">
      {shown.map(({ id, assetId, location, locationId, nextDueMs, reached }) => (
        <li key={id}>
          <Link href={`/assets/${assetId}/watch${locationId === null ? '' : `?location=${locationId}`}`}>
            {reached.length > 0 && (
              <>
                <strong>Stop limit reached.</strong> {reached.join(' ')}{' '}
              </>
            )}
            Watch plan{location === null ? '' : `, ${location}`}: measurement{' '}
            <strong>{dueText(nextDueMs, nowMs.value)}</strong>
          </Link>
        </li>
      ))}
    </ul>
  );
}
