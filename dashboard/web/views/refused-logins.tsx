/** Nodes that knocked and were not let in. */
import { useComputed } from '@preact/signals';
import type { RefusedLogin } from '../../contract/rig.ts';
import { ago, nodeIdText } from '../format.ts';
import { useApp, useIsShop } from '../state/store.ts';

/** Older ones are of no use to somebody who sets up a node now. */
const NEWS_MS = 3_600_000;

const WHY: Record<RefusedLogin['why'], string> = {
  unknown: 'not enrolled here',
  revoked: 'was revoked: enrol it anew and flash the new password',
  'wrong-password':
    'is enrolled, but its password is wrong: revoke it, enrol it anew and flash the new password',
};

export function RefusedLogins({
  logins,
  onEnrol,
}: {
  logins: readonly RefusedLogin[];
  onEnrol(nodeId: string): void;
}) {
  const { nowMs } = useApp();
  const isShop = useIsShop();
  const minute = useComputed(() => Math.floor(nowMs.value / 5000) * 5000).value;
  const news = logins.filter(({ lastMs }) => minute - lastMs < NEWS_MS);
  if (news.length === 0) return null;
  return (
    <section class="panel" aria-labelledby="refused-heading">
      <h2 id="refused-heading">Tried to connect and was refused</h2>
      <ul class="waiting">
        {news.map(({ nodeId, address, attempts, lastMs, why }) => (
          <li key={`${nodeId} ${address}`}>
            <p>
              {nodeId === null ? (
                <>Somebody under a name that is no node’s</>
              ) : (
                <>
                  A node <code>{nodeIdText(nodeId)}</code>: {WHY[why]}
                </>
              )}
              . From {address}, {attempts} {attempts === 1 ? 'time' : 'times'}, last {ago(minute - lastMs)}.
            </p>
            {isShop && nodeId !== null && why !== 'wrong-password' && (
              <button
                type="button"
                aria-label={`Enrol node ${nodeIdText(nodeId)}`}
                onClick={() => onEnrol(nodeId)}
              >
                Enrol it
              </button>
            )}
          </li>
        ))}
      </ul>
    </section>
  );
}
