/** Levels of one location over weeks, beside others, with what they come to. */
import { useComputed, useSignal } from '@preact/signals';
import { useMemo } from 'preact/hooks';
import { Link } from 'wouter-preact';
import type { TrendValue } from '../../../contract/model.ts';
import type { LocationTrend } from '../../../contract/weeks.ts';
import { weekCalls } from '../../api-weeks.ts';
import { day } from '../../format.ts';
import { useApp } from '../../state/store.ts';
import { gapsOf, SPANS, type SpanKey, windowOf } from '../../state/weeks-series.ts';
import { VALUES, valueWords } from '../../words.ts';
import { Failure } from '../actions.tsx';
import { Choice } from '../forms.tsx';
import { Picture } from '../picture.tsx';
import { usePolled } from '../polled.ts';
import { Title } from '../title.tsx';
import { Events } from './events.tsx';
import { Figures } from './figures.tsx';
import { RunTable } from './run-table.tsx';

const REFRESH_MS = 30_000;
const MOST_SHOWN = 8;
const DAY_MS = 86_400_000;

const weeksChart = async (canvas: HTMLCanvasElement) =>
  (await import('../../charts/index.ts')).createWeeksChart(canvas);

export function TrendPage({ locationId }: { locationId: number }) {
  const { api, nowMs, state } = useApp();
  const calls = useMemo(() => weekCalls(api.call), [api]);
  const value = useSignal<TrendValue>('velocityRmsMmPerS');
  const bin = useSignal<string>('');
  const span = useSignal<SpanKey>('26');
  const back = useSignal(0);
  const beside = useSignal<readonly number[]>([]);
  const go = (spans: number) => {
    back.value += spans;
  };
  const window = windowOf(span.value, back.value, nowMs.peek());
  const key = JSON.stringify([locationId, value.value, bin.value, window, beside.value]);
  const read = () =>
    calls.trends({
      locationIds: [locationId, ...beside.peek()].join(','),
      value: value.peek(),
      ...(bin.peek() === '' ? {} : { bin: bin.peek() }),
      ...(window ?? {}),
    });
  const { data, failure, again } = usePolled(read, key, REFRESH_MS);
  const assets = useComputed(() => state.value.assets);
  const lead = data.value?.trends[0];
  const asset = assets.value?.find(({ locations }) => locations.some(({ id }) => id === locationId));
  const place = asset?.locations.find(({ id }) => id === locationId);

  return (
    <>
      <p class="crumb">
        <Link href="/">Levels</Link> /{' '}
        <Link href={`/location/${locationId}`}>{place?.name ?? 'Location'}</Link>
      </p>
      <Title tab="Weeks">
        {place?.name ?? 'Location'} over weeks
        {asset ? <span class="site"> {asset.name}</span> : null}
      </Title>
      <Failure failure={failure.value} />
      {lead && (
        <section class="panel" aria-labelledby="comes-to">
          <h2 id="comes-to">What it comes to</h2>
          <ul class="sentences">
            {lead.sentences.map((sentence) => (
              <li key={sentence}>{sentence}</li>
            ))}
            {data.value!.apart && <li>{data.value!.apart.sentence}</li>}
          </ul>
        </section>
      )}
      <section class="panel" aria-labelledby="weeks-heading">
        <h2 id="weeks-heading">Runs over time</h2>
        <div class="choices">
          <label class="select">
            Value
            <select
              value={value.value}
              onChange={(event) => {
                value.value = event.currentTarget.value as TrendValue;
              }}
            >
              {VALUES.map(({ key: name, name: text }) => (
                <option key={name} value={name}>
                  {text}
                </option>
              ))}
            </select>
          </label>
          {lead && (lead.assetKind === 'vehicle' || lead.bins.length > 1) && (
            <label class="select">
              Condition
              <select
                value={bin.value}
                onChange={(event) => {
                  bin.value = event.currentTarget.value;
                }}
              >
                <option value="">All, each against its own baseline</option>
                {lead.bins.map(({ bin: name, runs }) => (
                  <option key={name} value={name}>
                    {name} ({runs} runs)
                  </option>
                ))}
              </select>
            </label>
          )}
        </div>
        <div class="choices">
          <Choice
            legend="Shown"
            value={span.value}
            options={SPANS.map(({ key: name, label }) => ({ value: name, label }))}
            onChoose={(chosen) => {
              span.value = chosen;
              back.value = 0;
            }}
          />
          {span.value !== 'all' && (
            <div class="buttons">
              <button type="button" onClick={() => go(1)}>
                Earlier
              </button>
              <button type="button" disabled={back.value === 0} onClick={() => go(-1)}>
                Later
              </button>
            </div>
          )}
        </div>
        {data.value && lead && <WeeksPicture trends={data.value.trends} window={window} />}
        {lead && <Beside lead={lead} beside={beside} />}
      </section>
      {lead && <Figures trend={lead} />}
      {lead && <Events trend={lead} calls={calls} onChanged={again} />}
      {lead && <RunTable trend={lead} calls={calls} onChanged={again} />}
    </>
  );
}

function WeeksPicture({
  trends,
  window,
}: {
  trends: readonly LocationTrend[];
  window: { fromMs: number; toMs: number } | null;
}) {
  const { nowMs } = useApp();
  const lead = trends[0]!;
  const words = valueWords(lead.value);
  const shown = useMemo(() => {
    const times = trends.flatMap(({ points }) => points.map(({ timeMs }) => timeMs));
    const whole = {
      fromMs: Math.min(nowMs.peek() - 28 * DAY_MS, ...times) - DAY_MS,
      toMs: Math.max(nowMs.peek(), ...times) + DAY_MS,
    };
    return {
      trends,
      names: trends.map(nameOf),
      window: window ?? whole,
      nowMs: nowMs.peek(),
      unit: lead.basis === 'ratio' ? 'times the baseline' : lead.unit,
      yTitle:
        lead.basis === 'ratio'
          ? `${words.name}, times its baseline`
          : `${words.name}${lead.unit === '' ? '' : ` in ${lead.unit}`}`,
    };
  }, [trends, JSON.stringify(window)]);
  const inside = lead.points.filter(
    ({ timeMs }) => timeMs >= shown.window.fromMs && timeMs <= shown.window.toMs,
  );
  const gaps = gapsOf(inside);
  const one = lead.assetKind === 'vehicle' ? 'run' : 'day';
  return (
    <figure class="tall">
      <Picture
        create={weeksChart}
        view={shown}
        label={`${words.name} of ${inside.length} ${one}s of ${nameOf(lead)}`}
      />
      <figcaption class="hint">
        Each mark is one {one}: its median
        {lead.basis === 'ratio' ? ', every condition against its own baseline' : ''}. Band and plain line:
        baseline and its scatter. Long dashes: slope. {inside.length} {one}s shown
        {gaps.length > 0
          ? `; nothing was measured ${gaps.map(({ fromMs, toMs }) => `from ${day(fromMs, nowMs.value)} to ${day(toMs, nowMs.value)}`).join(', ')}`
          : ''}
        . {lead.leftOut.length > 0 ? `Crosses at the bottom: ${lead.leftOut.length} left out. ` : ''}
        {trends.length > 1 && (
          <>Marks: {trends.map((trend, index) => `${SHAPE_WORDS[index]} ${nameOf(trend)}`).join('; ')}.</>
        )}
      </figcaption>
    </figure>
  );
}

const SHAPE_WORDS = [
  'filled circle',
  'triangle',
  'square',
  'diamond',
  'star',
  'slanted cross',
  'upright cross',
  'dash',
];

const nameOf = ({ location, assetName }: LocationTrend) => `${location}, ${assetName}`;

function Beside({ lead, beside }: { lead: LocationTrend; beside: { value: readonly number[] } }) {
  const { state } = useApp();
  const own = state.value.assets?.find(({ id }) => id === lead.assetId)?.locations ?? [];
  const options = [
    ...own
      .filter(({ id }) => id !== lead.locationId)
      .map(({ id, name }) => ({ id, name: `${name}, ${lead.assetName}` })),
    ...lead.peers.map(({ locationId, assetName }) => ({
      id: locationId,
      name: `${lead.location}, ${assetName}`,
    })),
  ];
  if (options.length === 0) return null;
  const full = beside.value.length >= MOST_SHOWN - 1;
  return (
    <fieldset class="ticks">
      <legend>Show beside it</legend>
      {options.map(({ id, name }) => {
        const ticked = beside.value.includes(id);
        return (
          <label key={id}>
            <input
              type="checkbox"
              checked={ticked}
              disabled={!ticked && full}
              onChange={() => {
                beside.value = ticked ? beside.value.filter((one) => one !== id) : [...beside.value, id];
              }}
            />
            {name}
          </label>
        );
      })}
    </fieldset>
  );
}
