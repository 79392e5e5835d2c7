/** A level as number, unit, zone letter and age. Each part redraws only when its own text changes. */
import { type ReadonlySignal, useComputed } from '@preact/signals';
import type { LocationReading, Zone } from '../../contract/model.ts';
import { NONE, significant } from '../format.ts';
import { type Freshness, freshness } from '../state/freshness.ts';
import { useApp } from '../state/store.ts';
import { flagText } from '../words.ts';

const ZONES: readonly Zone[] = ['A', 'B', 'C', 'D'];

/** Four steps of one hue with their letters; the letter carries the meaning, the shade repeats it. */
export function ZoneScale({ zone, old }: { zone: Zone | null; old?: boolean }) {
  return (
    <span class={`zone-scale${old ? ' old' : ''}`}>
      <span class="unseen">{zone === null ? 'no zone' : `zone ${zone}`}</span>
      {ZONES.map((letter) => (
        <span
          key={letter}
          aria-hidden="true"
          class={letter === zone ? `step on zone-${letter.toLowerCase()}` : 'step'}
        >
          {letter}
        </span>
      ))}
    </span>
  );
}

export function Velocity({
  reading,
  withRange = false,
}: {
  reading: LocationReading | undefined;
  withRange?: boolean;
}) {
  const level = reading?.highest?.velocityRmsMmPerS ?? null;
  const range = reading?.highest?.velocityUncertaintyMmPerS ?? null;
  return (
    <span class="velocity">
      <span class="number">{level === null ? NONE : significant(level)}</span>
      <span class="unit">mm/s</span>
      {withRange && level !== null && range !== null && <span class="range">± {significant(range, 2)}</span>}
    </span>
  );
}

export function useReading(locationId: number): ReadonlySignal<LocationReading | undefined> {
  const { state } = useApp();
  return useComputed(() => state.value.newest[locationId]);
}

/** Equal texts keep the same signal value, so that a row is left alone while its age reads the same. */
export function useFreshness(reading: ReadonlySignal<LocationReading | undefined>): {
  kind: ReadonlySignal<Freshness['kind']>;
  text: ReadonlySignal<string>;
} {
  const { state, nowMs } = useApp();
  const both = useComputed(() => freshness(reading.value, nowMs.value, state.value.connection !== 'lost'));
  return { kind: useComputed(() => both.value.kind), text: useComputed(() => both.value.text) };
}

export function Flags({ flags }: { flags: readonly string[] }) {
  if (flags.length === 0) return null;
  return (
    <ul class="flags">
      {flags.map((flag) => (
        <li key={flag}>{flagText(flag)}</li>
      ))}
    </ul>
  );
}
