/** One location: newest values of every axis, live pictures, last hour. */
import { useComputed, useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import { Link } from 'wouter-preact';
import type { Asset, Location, LocationReading } from '../../contract/model.ts';
import { axisName, band, significant } from '../format.ts';
import { useApp } from '../state/store.ts';
import { classWords, VALUES, ZONE_LIMITS, ZONE_MEANING } from '../words.ts';
import { CautionLine } from './caution-line.tsx';
import { FindingsPanel } from './findings-panel.tsx';
import { later } from './later.tsx';
import { Flags, useFreshness, useReading, Velocity, ZoneScale } from './level.tsx';
import { LiveListen } from './live-listen.tsx';
import { LivePictures } from './live-pictures.tsx';
import { Title } from './title.tsx';
import { TrendPanel } from './trend-panel.tsx';
import { TurnedNotice } from './turned-notice.tsx';
import { WeeksPanel } from './weeks-panel.tsx';

const SpectrumPanel = later(async () => (await import('./spectrum-panel.tsx')).SpectrumPanel);

export function LocationPage({ locationId }: { locationId: number }) {
  const { state } = useApp();
  const assets = useComputed(() => state.value.assets).value;
  const reading = useReading(locationId);
  if (assets === null) return <p>Reading the list of assets…</p>;
  const asset = assets.find(({ locations }) => locations.some(({ id }) => id === locationId));
  const place = asset?.locations.find(({ id }) => id === locationId);
  if (!asset || !place)
    return (
      <>
        <Title>No such location</Title>
        <p>
          It may have been deleted. <Link href="/">Back to the levels</Link>
        </p>
      </>
    );
  const axes = reading.value?.axes.map(({ axis }) => axis) ?? [];
  return (
    <>
      <p class="crumb">
        <Link href="/">Levels</Link> / {asset.name}
      </p>
      <Title tab={`${place.name}, ${asset.name}`}>{place.name}</Title>
      <TurnedNotice place={place} />
      <div class="location">
        <div class="column">
          <Headline asset={asset} place={place} />
          {reading.value && <ValueTable reading={reading.value} tolerancePct={place.mount?.tolerancePct} />}
        </div>
        <div class="column">
          {place.mount === null ? (
            <p class="panel none">
              No sensor is mounted here. <Link href={`/assets/${asset.id}`}>Mount one</Link>
            </p>
          ) : (
            <>
              <LivePictures locationId={locationId} leadingAxis={reading.value?.highest?.axis} />
              <LiveListen locationId={locationId} />
            </>
          )}
        </div>
      </div>
      <TrendPanel locationId={locationId} axes={axes} machineClass={asset.machineClass} />
      <SpectrumPanel locationId={locationId} leadingAxis={reading.value?.highest?.axis} />
      <WeeksPanel assetId={asset.id} locationId={locationId} />
      <FindingsPanel locationId={locationId} mounted={place.mount !== null} />
      <CautionLine>Wheels turning, engine running, or on the road?</CautionLine>
    </>
  );
}

function Headline({ asset, place }: { asset: Asset; place: Location }) {
  const reading = useReading(place.id);
  const fresh = useFreshness(reading);
  const newest = reading.value;
  const zone = newest?.highest?.zone ?? null;
  const axis = newest?.highest?.axis;
  const [ab, bc, cd] = classWords(asset.machineClass).boundariesMmPerS;
  const old = fresh.kind.value !== 'fresh' && fresh.kind.value !== 'late';
  return (
    <section class="panel headline" aria-labelledby="newest-heading">
      <h2 id="newest-heading" class="unseen">
        Newest second
      </h2>
      <p class="component">{place.component}</p>
      <div class={old ? 'big old' : 'big'}>
        <Velocity reading={newest} withRange />
        <ZoneScale zone={zone} old={old} />
      </div>
      <p>
        Velocity RMS{axis && axis !== 'single' ? `, highest axis ${axisName(axis)}` : ''}
        {newest ? `, ${band(newest.bandHz)}` : ''} ·{' '}
        <span class={`age ${fresh.kind.value}`}>
          {place.mount === null ? 'no sensor mounted' : fresh.text}
        </span>
      </p>
      {newest && <Flags flags={newest.flags} />}
      <p class="zone-words">
        {zone && (
          <>
            <strong>Zone {zone}</strong>: {ZONE_MEANING[zone]}.{' '}
          </>
        )}
        Class {asset.machineClass} has its boundaries at {ab}, {bc} and {cd} mm/s (ISO 10816-1, from secondary
        texts).
      </p>
      <p class="hint">{ZONE_LIMITS}</p>
    </section>
  );
}

function ValueTable({
  reading,
  tolerancePct = 5,
}: {
  reading: LocationReading;
  tolerancePct?: number | undefined;
}) {
  return (
    <section class="panel" aria-labelledby="values-heading">
      <h2 id="values-heading">Values by axis</h2>
      <table class="values">
        <thead>
          <tr>
            <th scope="col">Value</th>
            {reading.axes.map(({ axis }) => (
              <th scope="col" key={axis} class="figure">
                {axisName(axis)}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {VALUES.map((words) => (
            <ValueRow key={words.key} words={words} reading={reading} />
          ))}
        </tbody>
      </table>
      <p class="hint">
        RMS: root mean square. Velocity from {band(reading.bandHz)}; acceleration over the whole sampled band
        with the mean removed, {significant(reading.sampleRateHz, 5)} samples per second. One second each. The
        range after ± holds the true velocity in about 95 of 100 seconds: what the sensor and its clamp may be
        off (its scale by ± {significant(tolerancePct, 2)} %), its noise, the edges of the band, and chance,
        which alone is about a tenth for random vibration.
      </p>
    </section>
  );
}

function ValueRow({ words, reading }: { words: (typeof VALUES)[number]; reading: LocationReading }) {
  const { key, name, spelt, unit, explanation } = words;
  const open = useSignal(false);
  const id = useId();
  return (
    <>
      <tr>
        <th scope="row">
          <button
            type="button"
            class="explain"
            aria-expanded={open.value}
            aria-controls={id}
            onClick={() => {
              open.value = !open.value;
            }}
          >
            {name}
          </button>{' '}
          {unit && <span class="unit">{unit}</span>}
        </th>
        {reading.axes.map((axis) => (
          <td
            key={axis.axis}
            class={`figure ${key === 'velocityRmsMmPerS' && reading.highest?.axis === axis.axis ? 'leads' : ''}`}
          >
            {significant(axis[key])}
            {key === 'velocityRmsMmPerS' && axis.velocityUncertaintyMmPerS ? (
              <span class="range"> ± {significant(axis.velocityUncertaintyMmPerS, 2)}</span>
            ) : null}
          </td>
        ))}
      </tr>
      <tr id={id} class="explanation" hidden={!open.value}>
        <td colSpan={reading.axes.length + 1}>
          {spelt && `RMS is the ${spelt}. `}
          {explanation}
        </td>
      </tr>
    </>
  );
}
