/** A sensor on a reference shaker: what it reads of a known level. */
import { useSignal } from '@preact/signals';
import type { ShakerCheckResult } from '../../contract/rig.ts';
import { axisName, moment, significant } from '../format.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';
import { Field, fieldText } from './forms.tsx';

interface Props {
  nodeId: string;
  sensor: number;
  onSaved(): void;
}

export function ShakerCheck({ nodeId, sensor, onSaved }: Props) {
  const { api } = useApp();
  const action = useAction();
  const saved = useSignal(false);
  const submit = (event: Event) => {
    event.preventDefault();
    const reference = {
      frequencyHz: Number(fieldText(event, 'frequency')),
      accelerationRmsMPerS2: Number(fieldText(event, 'level')),
      tolerancePct: Number(fieldText(event, 'reference-tolerance')),
    };
    saved.value = false;
    void action.run(async () => {
      await api.checkOnShaker(nodeId, sensor, reference);
      onSaved();
      saved.value = true;
    });
  };
  return (
    <section class="panel" aria-labelledby="shaker-heading">
      <h2 id="shaker-heading">Check on a reference shaker</h2>
      <p>
        Screw or clamp the sensor onto the shaker as it sits on a machine, switch the shaker on, and wait ten
        seconds. Sensor and clamp are then checked together, in motion.
      </p>
      <form onSubmit={submit}>
        <div class="in-line">
          <Field
            label="Frequency, Hz"
            name="frequency"
            type="number"
            inputMode="decimal"
            required
            {...{ min: 12.5, max: 800, step: 'any' }}
            defaultValue="159.2"
          />
          <Field
            label="Level, m/s² RMS"
            name="level"
            type="number"
            inputMode="decimal"
            required
            {...{ min: 0.5, max: 200, step: 'any' }}
            hint="See the shaker’s certificate"
            defaultValue="10"
          />
          <Field
            label="Tolerance of the shaker, ± %"
            name="reference-tolerance"
            type="number"
            inputMode="decimal"
            required
            {...{ min: 0.1, max: 20, step: 'any' }}
            hint="See its certificate"
            defaultValue="3"
          />
        </div>
        <Failure failure={action.failure.value} />
        <div class="buttons">
          <button type="submit" disabled={action.busy.value}>
            Compare the last 10 seconds
          </button>
          <span role="status">{saved.value ? 'Kept. The result stands under Tolerance.' : ''}</span>
        </div>
      </form>
    </section>
  );
}

export function ShakerResult({ check }: { check: ShakerCheckResult }) {
  const { nowMs } = useApp();
  const { deviationPct, reference, measuredRmsMPerS2, axis, seconds, spreadPct, atMs } = check;
  const off =
    Math.abs(deviationPct) < 0.05
      ? 'as much as it should'
      : `${significant(Math.abs(deviationPct), 2)} % too ${deviationPct < 0 ? 'little' : 'much'}`;
  return (
    <p class="hint">
      On the shaker, {moment(atMs, nowMs.value)}: axis {axisName(axis)} read{' '}
      {significant(measuredRmsMPerS2, 4)} of {significant(reference.accelerationRmsMPerS2, 4)} m/s² RMS at{' '}
      {significant(reference.frequencyHz, 4)} Hz, {off}, over {seconds} s within {significant(spreadPct, 2)}{' '}
      %. The shaker itself is good to ± {significant(reference.tolerancePct, 2)} %.
    </p>
  );
}
