/** Alerts that are over, newest first. */
import type { Alert } from '../../../contract/alerts.ts';
import type { AlertCalls } from '../../api-alerts.ts';
import { moment } from '../../format.ts';
import { useApp } from '../../state/store.ts';
import { Failure, useAction, useRead } from '../actions.tsx';

const WHY: Record<NonNullable<Alert['clearedWhy']>, string> = {
  'normal-again': 'measurements are back to normal',
  'heard-again': 'it was heard again',
  'no-longer-compared': 'work was done or the sensor moved: there is nothing to compare with yet',
  'no-longer-due': 'it is no longer due',
};

interface Props {
  assetId: number | null;
  calls: Pick<AlertCalls, 'history'>;
  stale: number;
}

export function AlertHistory({ assetId, calls, stale }: Props) {
  const { nowMs } = useApp();
  const read = useRead(() => calls.history(assetId), String(stale));
  const more = useAction();
  const list = read.data.value ?? [];
  const over = list.filter(({ clearedMs }) => clearedMs !== null);
  const now = nowMs.value;
  return (
    <section class="panel" aria-labelledby="history-heading">
      <h2 id="history-heading">Over</h2>
      <Failure failure={read.failure.value ?? more.failure.value} />
      {over.length === 0 && <p class="none">No alert is over yet.</p>}
      {over.length > 0 && (
        <ul class="alert-history">
          {over.map((alert) => (
            <li key={alert.id}>
              <strong>{alert.title}</strong>
              <br />
              {moment(alert.raisedMs, now)} to {moment(alert.clearedMs!, now)}: {WHY[alert.clearedWhy!]}.
              {alert.acknowledged && (
                <>
                  {' '}
                  Acknowledged by {alert.acknowledged.by}
                  {alert.acknowledged.note && `: ${alert.acknowledged.note}`}.
                </>
              )}
            </li>
          ))}
        </ul>
      )}
      {list.length > 0 && list.length % 200 === 0 && (
        <button
          type="button"
          class="quiet"
          disabled={more.busy.value}
          onClick={() =>
            void more.run(async () => {
              const older = await calls.history(assetId, list.at(-1)!.id);
              read.data.value = [...list, ...older];
            })
          }
        >
          Earlier ones
        </button>
      )}
    </section>
  );
}
