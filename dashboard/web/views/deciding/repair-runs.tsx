/** Which runs are compared: all of them, unless some are unticked by hand. */
import { Link } from 'wouter-preact';
import type { RepairRuns as Chosen, RepairCheck } from '../../../contract/repair-checks.ts';
import type { decidingCalls } from '../../api-deciding.ts';
import { moment, significant } from '../../format.ts';
import { useApp } from '../../state/store.ts';
import { valueWords } from '../../words.ts';
import { Failure, useAction } from '../actions.tsx';

interface Props {
  check: RepairCheck;
  calls: Pick<ReturnType<typeof decidingCalls>, 'chooseRepairRuns'>;
  onChanged(): void;
}

export function RepairRuns({ check, calls, onChanged }: Props) {
  const { nowMs } = useApp();
  const action = useAction();
  const { before, after } = check;
  if (before.length + after.length === 0) return null;
  const { unit } = valueWords(check.value);
  const choose = (runs: Chosen) =>
    void action.run(async () => {
      await calls.chooseRepairRuns(check.id, runs);
      onChanged();
    });
  const submit = (event: Event) => {
    event.preventDefault();
    const form = new FormData(event.currentTarget as HTMLFormElement);
    const ticked = new Set(form.getAll('run').map(Number));
    const chosen = (side: RepairCheck['before']) => {
      const ids = [...new Set(side.map(({ runId }) => runId))];
      const taken = ids.filter((id) => ticked.has(id));
      return taken.length === ids.length ? null : taken;
    };
    choose({ before: chosen(before), after: chosen(after) });
  };
  return (
    <details>
      <summary>Choose the runs</summary>
      <form onSubmit={submit}>
        {(
          [
            ['Before', before],
            ['After', after],
          ] as const
        ).map(([name, side]) => (
          <fieldset key={name} class="ticks long">
            <legend>{name}</legend>
            {runsOf(side).map(({ runId, timeMs, taken, levels }) => (
              <label key={runId}>
                <input type="checkbox" name="run" value={runId} defaultChecked={taken} />
                <span>
                  <Link href={`/runs/${runId}`}>{moment(timeMs, nowMs.value)}</Link>:{' '}
                  {levels.map(({ bin, level }) => `${bin} ${significant(level)} ${unit}`).join('; ')}
                </span>
              </label>
            ))}
          </fieldset>
        ))}
        <p class="hint">
          The result says that runs were chosen by hand. Choose for how they were made, not for their level.
        </p>
        <Failure failure={action.failure.value} />
        <button type="submit" disabled={action.busy.value}>
          Compare these
        </button>
      </form>
    </details>
  );
}

/** A run has a level in each of its conditions, and is taken or left as a whole. Newest first. */
function runsOf(side: RepairCheck['before']) {
  const byRun = new Map<
    number,
    { runId: number; timeMs: number; taken: boolean; levels: RepairCheck['before'] }
  >();
  for (const entry of side) {
    const run = byRun.get(entry.runId);
    if (run === undefined) byRun.set(entry.runId, { ...entry, levels: [entry] });
    else run.levels.push(entry);
  }
  return [...byRun.values()].sort((a, b) => b.timeMs - a.timeMs);
}
