/** One run: its controls while it is under way, its results afterwards. */
import { useComputed } from '@preact/signals';
import { Link } from 'wouter-preact';
import { useApp } from '../state/store.ts';
import { Failure, useRead } from './actions.tsx';
import { RunControl } from './run-control.tsx';
import { RunResult } from './run-result.tsx';
import { Title } from './title.tsx';

export function RunPage({ runId }: { runId: number }) {
  const { state, api } = useApp();
  const assets = useComputed(() => state.value.assets).value;
  // Read again when the run changed, whoever changed it, and after the line was lost.
  const stale = useComputed(() => state.value.runsStale).value;
  const run = useRead(() => api.run(runId), String(stale));
  if (run.failure.value?.status === 404)
    return (
      <>
        <Title>No such run</Title>
        <p>
          It may have been deleted. <Link href="/runs">All runs</Link>
        </p>
      </>
    );
  const found = run.data.value;
  if (found === null || assets === null)
    return (
      <>
        <Failure failure={run.failure.value} />
        <p>Reading the run…</p>
      </>
    );
  const asset = assets.find(({ id }) => id === found.assetId);
  return (
    <>
      <p class="crumb">
        <Link href="/runs">All runs</Link>
      </p>
      {found.endMs === null ? (
        <RunControl run={found} asset={asset} onChanged={run.again} />
      ) : (
        <RunResult run={found} asset={asset} onChanged={run.again} />
      )}
      <Failure failure={run.failure.value} />
    </>
  );
}
