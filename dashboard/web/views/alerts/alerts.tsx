/** Open alerts with what they mean, what was before, and who is told. */
import { useComputed } from '@preact/signals';
import { Link, useSearch } from 'wouter-preact';
import type { Alert } from '../../../contract/alerts.ts';
import { alertCalls } from '../../api-alerts.ts';
import { useApp, useIsShop } from '../../state/store.ts';
import { Title } from '../title.tsx';
import { AlertCard } from './alert-card.tsx';
import { AlertHistory } from './history.tsx';
import { QuietLimits } from './quiet-limits.tsx';
import { Recipients } from './recipients.tsx';

export function Alerts() {
  const { state, api, dispatch } = useApp();
  const isShop = useIsShop();
  const calls = alertCalls(api.call);
  const asked = Number(new URLSearchParams(useSearch()).get('asset'));
  const assetId = Number.isInteger(asked) && asked > 0 ? asked : null;
  const all = useComputed(() => state.value.alerts).value;
  const stale = useComputed(() => state.value.alertsStale).value;
  const name = useComputed(() => state.value.assets?.find(({ id }) => id === assetId)?.name).value;
  const open =
    all === null ? null : inOrder(all.filter((one) => assetId === null || one.assetId === assetId));
  const changed = (alert: Alert) =>
    dispatch({ type: 'alerts', alerts: (all ?? []).map((one) => (one.id === alert.id ? alert : one)) });
  return (
    <>
      <Title>{name === undefined ? 'Alerts' : `Alerts of ${name}`}</Title>
      <p class="lead">
        Raised when a level has changed beyond its own scatter, passes a zone boundary, when looks agree on a
        damaged part, or when nothing is heard. One wild run raises none.
      </p>
      {assetId !== null && (
        <p>
          <Link href="/alerts">Alerts of all assets</Link>
        </p>
      )}
      {open === null ? (
        <p>Reading the alerts…</p>
      ) : open.length === 0 ? (
        <p class="none">No alert is open.</p>
      ) : (
        <ul class="plain stack">
          {open.map((alert) => (
            <AlertCard key={alert.id} alert={alert} calls={calls} onChanged={changed} />
          ))}
        </ul>
      )}
      <AlertHistory key={assetId} assetId={assetId} calls={calls} stale={stale} />
      {assetId === null && (
        <>
          {isShop && <Recipients calls={calls} />}
          <QuietLimits calls={calls} />
        </>
      )}
    </>
  );
}

/** What nobody has seen to yet comes first, what must not wait before all. */
function inOrder(alerts: readonly Alert[]): Alert[] {
  const rank = ({ acknowledged, caution }: Alert) => (acknowledged === null ? 2 : 0) + (caution ? 1 : 0);
  return alerts.toSorted((a, b) => rank(b) - rank(a) || b.raisedMs - a.raisedMs);
}
