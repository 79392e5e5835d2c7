/** That alerts are open, said where the asset or location is shown. */
import { useComputed } from '@preact/signals';
import { Link } from 'wouter-preact';
import { useApp } from '../state/store.ts';

export function AlertCount({ assetId }: { assetId: number }) {
  const { state } = useApp();
  const open = useComputed(
    () => state.value.alerts?.filter((alert) => alert.assetId === assetId).length ?? 0,
  ).value;
  if (open === 0) return null;
  return (
    <p class="alert-count">
      <Link href={`/alerts?asset=${assetId}`}>
        {open} {open === 1 ? 'alert' : 'alerts'} open
      </Link>
    </p>
  );
}

/** Inside a row that is a link itself. */
export function AlertLine({ locationId }: { locationId: number }) {
  const { state } = useApp();
  const open = useComputed(
    () => state.value.alerts?.filter((alert) => alert.locationId === locationId).length ?? 0,
  ).value;
  if (open === 0) return null;
  return <span class="alert-line">{open === 1 ? 'Alert open' : `${open} alerts open`}</span>;
}
