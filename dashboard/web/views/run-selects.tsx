/** Which part of a run, and which of its locations, a question is about. */
import type { Signal } from '@preact/signals';
import type { Run } from '../../contract/runs.ts';
import { clock } from '../format.ts';
import { useApp } from '../state/store.ts';
import { useRead } from './actions.tsx';

/** Value of a part's signal before anybody chooses: the whole run. */
export const WHOLE_RUN: string = 'whole';

/** The part as a request names it. */
export const manoeuvreOf = (part: string): { manoeuvreId?: number } =>
  part === WHOLE_RUN ? {} : { manoeuvreId: Number(part) };

interface PartProps {
  label: string;
  /** What the whole run is called. */
  whole: string;
  run: Run;
  part: Signal<string>;
  onChosen?(): void;
}

export function RunPartSelect({ label, whole, run, part, onChosen }: PartProps) {
  const { api } = useApp();
  const guides = useRead(() => api.manoeuvres(), 'once');
  return (
    <label class="select">
      {label}
      <select
        value={part.value}
        onChange={(event) => {
          part.value = event.currentTarget.value;
          onChosen?.();
        }}
      >
        <option value={WHOLE_RUN}>{whole}</option>
        {run.manoeuvres.map(({ id, manoeuvre, startMs }) => (
          <option key={id} value={id}>
            {clock(startMs, true)}{' '}
            {guides.data.value?.find((guide) => guide.id === manoeuvre)?.title ?? manoeuvre}
          </option>
        ))}
      </select>
    </label>
  );
}

interface LocationProps {
  label: string;
  run: Run;
  chosen: Signal<number>;
  onChosen(): void;
}

export function RunLocationSelect({ label, run, chosen, onChosen }: LocationProps) {
  return (
    <label class="select">
      {label}
      <select
        value={chosen.value}
        onChange={(event) => {
          chosen.value = Number(event.currentTarget.value);
          onChosen();
        }}
      >
        {run.locations.map(({ id, name, component }) => (
          <option key={id} value={id}>
            {component}: {name}
          </option>
        ))}
      </select>
    </label>
  );
}
