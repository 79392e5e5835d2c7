/** Tap test: rap two like parts and compare how they ring. */
import { useComputed, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { Link } from 'wouter-preact';
import type { RingMode, SidesResult, TapRequest, TapResult } from '../../contract/inquiries.ts';
import type { Asset } from '../../contract/model.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';
import { Field } from './forms.tsx';
import { Title } from './title.tsx';

type Side = 'left' | 'right';
const WANTED_RAPS = 5;
/** Looked at anew this often while raps are awaited; the newest second is still on its way. */
const LOOK_MS = 2_000;
const ON_ITS_WAY_MS = 1_500;
const LONGEST_MS = 45_000;

export function TapTest({ assetId }: { assetId: number }) {
  const { state, api } = useApp();
  const asset = useComputed(() => state.value.assets?.find(({ id }) => id === assetId)).value;
  const part = useSignal('shield');
  const taken = useSignal<Partial<Record<Side, TapRequest>>>({});
  const found = useSignal<SidesResult | null>(null);
  const action = useAction();
  if (asset === undefined) return <p>Reading the asset…</p>;
  const { left, right } = taken.value;
  const take = (side: Side) => (request: TapRequest | null) => {
    const { [side]: _, ...others } = taken.value;
    taken.value = request === null ? others : { ...others, [side]: request };
    found.value = null;
  };
  return (
    <>
      <p class="crumb">
        <Link href={`/assets/${assetId}`}>{asset.name}</Link>
      </p>
      <Title>Tap test</Title>
      <p class="lead">
        Rap a shield, bracket or housing beside its sensor, on the left and on the right, and compare how they
        ring. A loose or cracked one mostly rings lower, or dies away faster.
      </p>
      <p class="caution-line strong">
        Engine off, everything standing, exhaust cold enough to touch. Rap with a screwdriver’s handle, never
        on brake or fuel lines, sensors of airbags, glass or anything under tension.
      </p>
      <div class="narrow">
        <Field
          label="Part"
          name="part"
          defaultValue={part.value}
          maxLength={60}
          autocomplete="off"
          onChange={(event) => {
            part.value = event.currentTarget.value;
          }}
        />
      </div>
      <div class="run-columns">
        <SidePanel side="left" asset={asset} onTaken={take('left')} />
        <SidePanel side="right" asset={asset} onTaken={take('right')} />
      </div>
      <section class="panel" aria-labelledby="sides-heading">
        <h2 id="sides-heading">Left against right</h2>
        {left && right ? (
          <button
            type="button"
            class="main"
            disabled={action.busy.value}
            onClick={() =>
              void action.run(async () => {
                found.value = await api.sides({
                  part: part.value.trim().toLowerCase() || 'part',
                  left,
                  right,
                });
              })
            }
          >
            Compare
          </button>
        ) : (
          <p class="none">Rap both sides first.</p>
        )}
        <Failure failure={action.failure.value} />
        {found.value && (
          <div role="status">
            <p class="verdict-text">{found.value.sentence}</p>
            <p class="hint">
              What it is (loose, cracked, heavier) a tap test cannot say; common practice, no source.
            </p>
          </div>
        )}
      </section>
    </>
  );
}

interface SideProps {
  side: Side;
  asset: Asset;
  onTaken(request: TapRequest | null): void;
}

function SidePanel({ side, asset, onTaken }: SideProps) {
  const { api, state } = useApp();
  const places = asset.locations.filter(({ mount }) => mount !== null);
  const chosen = useSignal(places[side === 'left' ? 0 : Math.min(1, places.length - 1)]?.id ?? 0);
  const sinceMs = useSignal<number | null>(null);
  const result = useSignal<TapResult | null>(null);
  const action = useAction();
  const stationMs = () => Math.round(Date.now() + state.value.clockOffsetMs);

  const spanOf = (fromMs: number): TapRequest => ({
    locationId: chosen.value,
    fromMs,
    toMs: Math.max(fromMs + 500, stationMs() - ON_ITS_WAY_MS),
  });
  async function look(fromMs: number): Promise<void> {
    const request = spanOf(fromMs);
    const answer = await api.tap(request);
    // Stopped meanwhile: the answer still belongs to what was recorded.
    result.value = answer;
    if (answer.raps > 0) onTaken(request);
    if (answer.raps >= WANTED_RAPS || request.toMs - fromMs > LONGEST_MS) sinceMs.value = null;
  }

  const since = sinceMs.value;
  useEffect(() => {
    if (since === null) return;
    const timer = setInterval(() => void action.run(() => look(since)), LOOK_MS);
    return () => clearInterval(timer);
  }, [since]);

  const title = side === 'left' ? 'Left' : 'Right';
  if (places.length === 0)
    return (
      <section class="panel" aria-label={title}>
        <p class="none">No location of this asset has a sensor.</p>
      </section>
    );
  return (
    <section class="panel" aria-labelledby={`tap-${side}`}>
      <h2 id={`tap-${side}`}>{title}</h2>
      <label class="select">
        Sensor at
        <select
          value={chosen.value}
          disabled={since !== null}
          onChange={(event) => {
            chosen.value = Number(event.currentTarget.value);
            result.value = null;
            onTaken(null);
          }}
        >
          {places.map(({ id, name, component }) => (
            <option key={id} value={id}>
              {component}: {name}
            </option>
          ))}
        </select>
      </label>
      <button
        type="button"
        class={since === null ? 'giant' : 'giant main'}
        onClick={() => {
          if (since !== null) {
            sinceMs.value = null;
            return;
          }
          result.value = null;
          onTaken(null);
          sinceMs.value = stationMs();
        }}
      >
        {since === null ? 'Wait for raps' : 'Stop'}
      </button>
      <p role="status">
        {since !== null && `Rap ${WANTED_RAPS} times, a second or more apart. `}
        {result.value && `${result.value.raps} ${result.value.raps === 1 ? 'rap' : 'raps'} found.`}
        {result.value?.problem && since === null && ` ${capital(result.value.problem)}.`}
      </p>
      {result.value && result.value.modes.length > 0 && <Modes modes={result.value.modes} />}
      <Failure failure={action.failure.value} />
    </section>
  );
}

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

function Modes({ modes }: { modes: readonly RingMode[] }) {
  return (
    <table class="values">
      <thead>
        <tr>
          <th scope="col">Rings at, Hz</th>
          <th scope="col">Damping, %</th>
          <th scope="col">In raps</th>
        </tr>
      </thead>
      <tbody>
        {modes.slice(0, 5).map((mode) => (
          <tr key={mode.frequencyHz}>
            <td>
              {mode.frequencyHz.toFixed(1)} ± {mode.frequencyUncertaintyHz.toFixed(1)}
            </td>
            <td>
              {(100 * mode.dampingRatio).toFixed(2)} ± {(100 * mode.dampingUncertainty).toFixed(2)}
            </td>
            <td>
              {mode.raps} of {mode.of}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
