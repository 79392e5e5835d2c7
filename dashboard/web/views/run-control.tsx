/** A run under way, made for a phone in a passenger's hand: mark, guide, watch, end. */
import { useComputed } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Asset, Location } from '../../contract/model.ts';
import type { Run, VehicleQuantity } from '../../contract/runs.ts';
import { elapsed, kindWords, VEHICLE } from '../run-words.ts';
import { useApp } from '../state/store.ts';
import { ConfirmButton } from './actions.tsx';
import { useFreshness, useReading, Velocity, ZoneScale } from './level.tsx';
import { Manoeuvres } from './manoeuvres.tsx';
import { NoiseButton } from './noise-button.tsx';
import { Title } from './title.tsx';

interface Props {
  run: Run;
  asset: Asset | undefined;
  onChanged(): void;
}

export function RunControl({ run, asset, onChanged }: Props) {
  const { api, nowMs } = useApp();
  const words = kindWords(run.kind);
  useScreenAwake();
  return (
    <>
      <header class="run-head">
        <Title tab={`Run, ${asset?.name ?? ''}`}>{asset?.name ?? 'Run'}</Title>
        <p class="run-clock">
          <span>{words.label}</span>
          <span class="number">{elapsed(nowMs.value - run.startMs)}</span>
        </p>
      </header>
      <p class="caution-line strong">{words.cautions[0]}</p>
      <NoiseButton run={run} onChanged={onChanged} />
      <div class="run-columns">
        <Manoeuvres run={run} onChanged={onChanged} />
        <div class="stack">
          <Levels asset={asset} />
          <VehicleSays assetId={run.assetId} />
          <section class="panel" aria-labelledby="end-heading">
            <h2 id="end-heading">End</h2>
            <p>The raw samples of all locations stay with the run.</p>
            <ConfirmButton
              label="End the run"
              look="giant"
              question="End this run?"
              confirm="End it"
              onConfirm={async () => {
                await api.endRun(run.id);
                onChanged();
              }}
            >
              <p>Nothing more is recorded into it. Its results follow on this page.</p>
            </ConfirmButton>
          </section>
          {words.cautions.length > 1 && (
            <section class="caution-box" aria-label="Cautions">
              <ul>
                {words.cautions.slice(1).map((text) => (
                  <li key={text}>{text}</li>
                ))}
              </ul>
            </section>
          )}
        </div>
      </div>
    </>
  );
}

function Levels({ asset }: { asset: Asset | undefined }) {
  const places = asset?.locations.filter(({ mount }) => mount !== null) ?? [];
  return (
    <section class="panel" aria-labelledby="levels-heading">
      <h2 id="levels-heading">Levels now</h2>
      {places.length === 0 ? (
        <p class="none">No location of this asset has a sensor: nothing is being recorded.</p>
      ) : (
        <ul class="rows">
          {places.map((place) => (
            <LevelRow key={place.id} place={place} />
          ))}
        </ul>
      )}
      <p class="hint">Velocity RMS (root mean square). On the road, zone letters only screen.</p>
    </section>
  );
}

function LevelRow({ place }: { place: Location }) {
  const reading = useReading(place.id);
  const fresh = useFreshness(reading);
  const old = fresh.kind.value !== 'fresh' && fresh.kind.value !== 'late';
  return (
    <li class={old ? 'run-level old' : 'run-level'}>
      <span class="place">
        <span class="name">{place.name}</span>
        <span class="component">{old ? fresh.text : place.component}</span>
      </span>
      <Velocity reading={reading.value} />
      <ZoneScale zone={reading.value?.highest?.zone ?? null} old={old} />
    </li>
  );
}

const STALE_MS = 10_000;

function VehicleSays({ assetId }: { assetId: number }) {
  const { state, nowMs } = useApp();
  const said = useComputed(() => state.value.vehicle[assetId]).value;
  if (said === undefined) return null;
  const old = nowMs.value - said.atMs > STALE_MS;
  return (
    <section class="panel" aria-labelledby="vehicle-heading">
      <h2 id="vehicle-heading">Vehicle</h2>
      <dl class="vehicle">
        {Object.entries(said.values).map(([quantity, value]) => {
          const { name, unit, digits } = VEHICLE[quantity as VehicleQuantity];
          return (
            <div key={quantity}>
              <dt>{name}</dt>
              <dd>
                {value.toFixed(digits)} {unit}
              </dd>
            </div>
          );
        })}
      </dl>
      {old && <p class="hint">No news from the vehicle for {elapsed(nowMs.value - said.atMs)}.</p>}
    </section>
  );
}

/** A phone that goes dark in the middle of a run is no help; where the browser cannot, nothing happens. */
function useScreenAwake(): void {
  useEffect(() => {
    let lock: { release(): Promise<void> } | null = null;
    let gone = false;
    const ask = async () => {
      try {
        const got = await navigator.wakeLock?.request('screen');
        if (gone) await got?.release();
        else lock = got ?? null;
      } catch {
        // Refused when the battery is low or the page is hidden.
      }
    };
    const again = () => void (document.visibilityState === 'visible' && ask());
    void ask();
    document.addEventListener('visibilitychange', again);
    return () => {
      gone = true;
      document.removeEventListener('visibilitychange', again);
      void lock?.release();
    };
  }, []);
}
