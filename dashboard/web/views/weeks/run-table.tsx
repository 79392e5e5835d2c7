/** The runs a trend is made of, and a way to leave one out. */
import { Link } from 'wouter-preact';
import type { LocationTrend } from '../../../contract/weeks.ts';
import type { weekCalls } from '../../api-weeks.ts';
import { moment, significant } from '../../format.ts';
import { useApp } from '../../state/store.ts';
import { Failure, useAction } from '../actions.tsx';

const MOST_ROWS = 40;

const REASONS: Record<string, string> = {
  'too-few-readings': 'too few good seconds',
  'too-many-left-out': 'too many seconds were clipped, rattling, settling or had gaps',
  'no-value': 'no value',
  'not-running': 'the machine was not running as for its baseline',
};

interface Props {
  trend: LocationTrend;
  calls: Pick<ReturnType<typeof weekCalls>, 'leaveOut'>;
  onChanged(): void;
}

export function RunTable({ trend, calls, onChanged }: Props) {
  const { nowMs } = useApp();
  const action = useAction();
  const leaveOut = (runId: number, reason: string | null) =>
    void action.run(async () => {
      await calls.leaveOut(runId, { leftOut: reason });
      onChanged();
    });
  const unit = trend.basis === 'ratio' ? '' : ` ${trend.unit}`;
  const rows = [
    ...trend.points.map((point) => ({ ...point, reason: null as string | null })),
    ...trend.leftOut.map(({ timeMs, runId, bin, reason }) => ({
      timeMs,
      runId,
      value: null,
      bins: [bin],
      reason,
    })),
  ].sort((a, b) => b.timeMs - a.timeMs);
  if (rows.length === 0) return null;
  return (
    <section class="panel" aria-labelledby="runs-heading">
      <h2 id="runs-heading">{trend.assetKind === 'vehicle' ? 'Runs' : 'Days'} in it</h2>
      <Failure failure={action.failure.value} />
      <details>
        <summary>
          The newest {Math.min(MOST_ROWS, rows.length)} of {rows.length}
        </summary>
        <table class="values">
          <thead>
            <tr>
              <th scope="col">When</th>
              <th scope="col">Condition</th>
              <th scope="col" class="figure">
                {trend.basis === 'ratio' ? 'Times baseline' : 'Median'}
              </th>
              <th scope="col">In the trend</th>
            </tr>
          </thead>
          <tbody>
            {rows.slice(0, MOST_ROWS).map(({ timeMs, runId, value, bins, reason }) => (
              <tr key={`${timeMs} ${bins.join()}`}>
                <td>
                  {runId === null ? (
                    moment(timeMs, nowMs.value)
                  ) : (
                    <Link href={`/runs/${runId}`}>{moment(timeMs, nowMs.value)}</Link>
                  )}
                </td>
                <td>{bins.join('; ')}</td>
                <td class="figure">{value === null ? '–' : `${significant(value)}${unit}`}</td>
                <td>
                  {reason === null ? 'yes' : `no: ${REASONS[reason] ?? reason}`}
                  {runId !== null && (reason === null || REASONS[reason] === undefined) && (
                    <button
                      type="button"
                      class="quiet"
                      onClick={() => leaveOut(runId, reason === null ? 'left out by hand' : null)}
                    >
                      {reason === null ? 'Leave out' : 'Take in'}
                      <span class="unseen"> the run of {moment(timeMs, nowMs.value)}</span>
                    </button>
                  )}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </details>
    </section>
  );
}
