/** The last hour of one value at one location. */
import { useComputed, useSignal } from '@preact/signals';
import { useEffect, useMemo } from 'preact/hooks';
import type { TrendQuery } from '../../contract/http.ts';
import type { MachineClass, TrendValue } from '../../contract/model.ts';
import { axisName } from '../format.ts';
import { useApp } from '../state/store.ts';
import { lastHour, shownFromMs, trendSeries, trendSummary } from '../state/trend-series.ts';
import { classWords, VALUES, valueWords } from '../words.ts';
import { Failure, useRead } from './actions.tsx';
import { Picture } from './picture.tsx';

const trendChart = async (canvas: HTMLCanvasElement) =>
  (await import('../charts/index.ts')).createTrendChart(canvas);

const REFRESH_MS = 10_000;

interface TrendPanelProps {
  locationId: number;
  axes: readonly string[];
  machineClass: MachineClass;
}

export function TrendPanel({ locationId, axes, machineClass }: TrendPanelProps) {
  const { api, nowMs, state } = useApp();
  const value = useSignal<TrendValue>('velocityRmsMmPerS');
  const axis = useSignal<NonNullable<TrendQuery['axis']>>('highest');
  // Signals are stable; the key below holds their values.
  const read = useMemo(
    () => async () => {
      const window = lastHour(nowMs.peek());
      const words = valueWords(value.value);
      const trend = await api.trend(locationId, { ...window, value: words.key, axis: axis.value });
      return { window, words, trend, series: trendSeries(trend, window) };
    },
    [locationId],
  );
  const { data, failure, again } = useRead(read, `${locationId} ${value.value} ${axis.value}`);
  // `again` reads the newest choice each time.
  useEffect(() => {
    const timer = setInterval(() => {
      if (document.visibilityState === 'visible' && state.value.connection !== 'lost') again();
    }, REFRESH_MS);
    return () => clearInterval(timer);
  }, [locationId]);

  const view = useComputed(() => {
    if (data.value === null) return null;
    const { window, series } = data.value;
    const { name, unit, key } = data.value.words;
    const [ab, bc, cd] = classWords(machineClass).boundariesMmPerS;
    return {
      series,
      fromMs: shownFromMs(data.value.trend, window),
      toMs: window.toMs,
      unit,
      yTitle: unit === '' ? name : `${name} in ${unit}`,
      boundaries:
        key === 'velocityRmsMmPerS'
          ? [
              { level: ab, name: 'A/B' },
              { level: bc, name: 'B/C' },
              { level: cd, name: 'C/D' },
            ]
          : [],
    };
  }).value;

  return (
    <section class="panel" aria-labelledby="trend-heading">
      <h2 id="trend-heading">Last hour</h2>
      <div class="choices">
        <label class="select">
          Value
          <select
            value={value.value}
            onChange={(event) => {
              value.value = event.currentTarget.value as TrendValue;
            }}
          >
            {VALUES.map(({ key, name }) => (
              <option key={key} value={key}>
                {name}
              </option>
            ))}
          </select>
        </label>
        {axes.length > 1 && (
          <label class="select">
            Axis
            <select
              value={axis.value}
              onChange={(event) => {
                axis.value = event.currentTarget.value as NonNullable<TrendQuery['axis']>;
              }}
            >
              <option value="highest">Highest of each moment</option>
              {axes.map((name) => (
                <option key={name} value={name}>
                  {axisName(name)}
                </option>
              ))}
            </select>
          </label>
        )}
      </div>
      <Failure failure={failure.value} />
      {view && data.value && (
        <figure>
          <Picture
            create={trendChart}
            view={view}
            label={`Trend of the last hour, ${data.value.words.name}`}
          />
          <figcaption class="hint">
            {trendSummary(data.value.trend, data.value.series, data.value.words.unit)} Shaded: lowest to
            highest second of each ten.
            {data.value.series.flaggedMs.length > 0 ? ' Crosses: flagged seconds left out.' : ''}
          </figcaption>
        </figure>
      )}
    </section>
  );
}
