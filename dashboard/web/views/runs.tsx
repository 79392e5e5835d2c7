/** All runs, newest first, and the way to a new one. */
import { useComputed } from '@preact/signals';
import { Link } from 'wouter-preact';
import type { RunSummary } from '../../contract/runs.ts';
import { moment } from '../format.ts';
import { elapsed, kindWords, OUTCOMES } from '../run-words.ts';
import { useApp } from '../state/store.ts';
import { Failure, useRead } from './actions.tsx';
import { Title } from './title.tsx';

export function Runs() {
  const { state, api } = useApp();
  const stale = useComputed(() => state.value.runsStale).value;
  const runs = useRead(() => api.runs(), String(stale));
  const list = runs.data.value;
  return (
    <>
      <Title>Runs</Title>
      <p class="lead">
        A run is a drive, or a time on the lift or bench, made to bring out a noise and find where it comes
        from. Everything measured meanwhile is kept with it.
      </p>
      <div class="buttons">
        <Link href="/runs/new" class="button main">
          Start a run
        </Link>
        <Link href="/runs/import" class="button">
          Bring in a recording
        </Link>
      </div>
      <Failure failure={runs.failure.value} />
      {list !== null && list.length === 0 && <p class="none">No run yet.</p>}
      {list !== null && list.length > 0 && (
        <ul class="cards">
          {list.map((run) => (
            <RunCard key={run.id} run={run} />
          ))}
        </ul>
      )}
    </>
  );
}

function RunCard({ run }: { run: RunSummary }) {
  const { state, nowMs } = useApp();
  const asset = useComputed(() => state.value.assets?.find(({ id }) => id === run.assetId)?.name).value;
  const outcome = OUTCOMES.find(({ value }) => value === run.outcome)?.label;
  const facts = [
    kindWords(run.kind).label,
    moment(run.startMs, nowMs.value),
    run.endMs === null ? 'under way' : elapsed(run.endMs - run.startMs),
    `${run.markCount} noise ${run.markCount === 1 ? 'mark' : 'marks'}`,
  ];
  return (
    <li class={run.endMs === null ? 'panel strong' : 'panel'}>
      <h2>
        <Link href={`/runs/${run.id}`}>{asset ?? `Asset ${run.assetId}`}</Link>
      </h2>
      <p>{facts.join(' · ')}</p>
      {outcome && <p class="none">{outcome}</p>}
    </li>
  );
}
