/** The numbers behind a trend, each with what it means. */
import type { LocationTrend } from '../../../contract/weeks.ts';
import { day, significant } from '../../format.ts';
import { useApp } from '../../state/store.ts';

export function Figures({ trend }: { trend: LocationTrend }) {
  const { nowMs } = useApp();
  const { baseline, line, test, change, alerts } = trend;
  const unit = trend.basis === 'ratio' ? 'times the baseline' : trend.unit;
  const when = (atMs: number) => day(atMs, nowMs.value);
  const amount = (value: number) => `${significant(value)} ${unit}`.trim();
  return (
    <section class="panel" aria-labelledby="figures-heading">
      <h2 id="figures-heading">Figures</h2>
      <dl>
        <dt>Baseline</dt>
        <dd>
          {baseline.known
            ? `${amount(baseline.median)}, from ${baseline.runs} ${trend.assetKind === 'vehicle' ? 'runs' : 'days'}, ${when(baseline.fromMs)} to ${when(baseline.toMs)}; median absolute deviation ${significant(baseline.mad)}, scatter ${significant(baseline.spreadDb, 2)} dB${baseline.passedOver > 0 ? `; ${baseline.passedOver} before it passed over while the level still fell` : ''}`
            : `none yet: ${baseline.runsMissing} more needed`}
        </dd>
        {trend.sensorUncertainty !== null && (
          <>
            <dt>Sensor as mounted</dt>
            <dd>
              ± {significant(100 * trend.sensorUncertainty, 2)} % of every level, the same way for all runs of
              one mount: it moves the whole course and not its shape. It counts against a zone boundary.
            </dd>
          </>
        )}
        {alerts.map(({ about, raiseAbove, clearBelow, falseAlarmsPerYear, raised, sinceMs }) => (
          <div key={about} class="pair">
            <dt>{about === 'change' ? 'Alert on a change' : `Alert at zone boundary ${about}`}</dt>
            <dd>
              raised above {amount(raiseAbove)}, over below {amount(clearBelow)};{' '}
              {raised ? <strong>raised since {when(sinceMs!)}</strong> : 'quiet'}.{' '}
              {falseAlarmsPerYear === null
                ? 'The baseline itself lies above it.'
                : `From an unchanged machine it would come ${rate(falseAlarmsPerYear)}.`}
            </dd>
          </div>
        ))}
        {line && (
          <>
            <dt>Slope (Theil and Sen)</dt>
            <dd>
              {significant(line.perWeek)} a week, 95 % range {significant(line.lowPerWeek)} to{' '}
              {significant(line.highPerWeek)} {trend.basis === 'ratio' ? 'of the baseline' : trend.unit}
            </dd>
          </>
        )}
        {test && (
          <>
            <dt>Significance (Mann and Kendall)</dt>
            <dd>
              tau {test.tau === null ? '–' : significant(test.tau, 2)}, p{' '}
              {test.pValue < 0.001 ? '< 0.001' : significant(test.pValue, 2)} from {test.runs}; likeness of
              neighbours {significant(test.lag1, 2)} taken out
            </dd>
          </>
        )}
        {change && (
          <>
            <dt>Clearest step (Pettitt)</dt>
            <dd>
              {when(change.timeMs)}, by {amount(change.step).replace('times', 'of')}, p{' '}
              {significant(change.pValue, 2)}
            </dd>
          </>
        )}
      </dl>
      <p class="hint">
        {trend.assetKind === 'vehicle'
          ? 'On the road a change counts from 2 dB (26 %), or from what the own scatter needs. Zones do not judge road runs. '
          : 'On a machine a change counts from a quarter of the B/C boundary, as in ISO 20816-1 (from memory), or from what the own scatter needs. '}
        An alert needs two of three {trend.assetKind === 'vehicle' ? 'runs' : 'days'} above its limit, and is
        over after three below.
      </p>
    </section>
  );
}

/** False alarms in words a person can weigh. */
export function rate(perYear: number): string {
  if (perYear < 0.005) return 'less than once in 200 years';
  if (perYear < 0.95) return `about once in ${Math.round(1 / perYear)} years`;
  return `about ${significant(perYear, 2)} times a year`;
}
