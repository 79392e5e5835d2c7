/** Slip of torque converter and clutches over a run, from the speeds that the vehicle told. */
import { useSignal } from '@preact/signals';
import type { Run } from '../../contract/runs.ts';
import type { SlipRequest, SlipResult } from '../../contract/slip.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';
import { Choice, Field } from './forms.tsx';
import { manoeuvreOf, RunPartSelect, WHOLE_RUN } from './run-selects.tsx';

const SHAFTS = ['engineSpeedRpm', 'turbineSpeedRpm', 'outputSpeedRpm'];
const LOCK_UP = [
  { value: 'open', label: 'Open, or not known' },
  { value: 'locked', label: 'Closed' },
  { value: 'controlled', label: 'Slipping on purpose' },
] as const;

export function SlipPanel({ run }: { run: Run }) {
  const { api } = useApp();
  const action = useAction();
  const part = useSignal(WHOLE_RUN);
  const lockUp = useSignal<NonNullable<SlipRequest['converter']>>('open');
  const ratio = useSignal('');
  const found = useSignal<SlipResult | null>(null);
  // Of a vehicle that told fewer than two shaft speeds there is nothing to ask.
  if (run.vehicle.filter(({ quantity }) => SHAFTS.includes(quantity)).length < 2) return null;
  const ask = () =>
    void action.run(async () => {
      found.value = await api.slip(run.id, {
        converter: lockUp.value,
        ...manoeuvreOf(part.value),
        ...(ratio.value === '' ? {} : { gearRatio: Number(ratio.value.replace(',', '.')) }),
      });
    });
  return (
    <section class="panel" aria-labelledby="slip-heading">
      <h2 id="slip-heading">Does something slip?</h2>
      <p class="hint">
        Engine against turbine: the torque converter. Turbine, or engine, against output times the gear’s
        ratio: the clutches.
      </p>
      <div class="in-line compare-form">
        <RunPartSelect label="Speeds of" whole="The whole run" run={run} part={part} />
        <Field
          label="Ratio of the gear"
          name="gearRatio"
          inputMode="decimal"
          autocomplete="off"
          hint="Empty: by the gear told and the asset’s ratios"
          onInput={(event) => {
            ratio.value = event.currentTarget.value.trim();
          }}
        />
      </div>
      <Choice
        legend="Lock-up clutch of the converter"
        value={lockUp.value}
        options={LOCK_UP}
        onChoose={(value) => {
          lockUp.value = value;
        }}
      />
      <div class="buttons">
        <button type="button" disabled={action.busy.value} onClick={ask}>
          Work out the slip
        </button>
      </div>
      <Failure failure={action.failure.value} />
      {found.value && (
        <div role="status">
          <p>
            <strong>Torque converter.</strong> {found.value.converter.sentence}
          </p>
          <p>
            <strong>Clutches.</strong> {found.value.clutch.sentence}
          </p>
        </div>
      )}
    </section>
  );
}
