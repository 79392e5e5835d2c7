/** How long a sensor board may be silent before that is an alert. */
import { useSignal } from '@preact/signals';
import type { AlertCalls } from '../../api-alerts.ts';
import { useIsShop } from '../../state/store.ts';
import { Failure, useAction, useRead } from '../actions.tsx';
import { Field, fieldText } from '../forms.tsx';

export function QuietLimits({ calls }: { calls: Pick<AlertCalls, 'settings' | 'putSettings'> }) {
  const isShop = useIsShop();
  const { data, failure, again } = useRead(calls.settings, '');
  const action = useAction();
  const saved = useSignal(false);
  const submit = (event: Event) => {
    event.preventDefault();
    const limits = {
      machineQuietMinutes: Number(fieldText(event, 'machine')),
      vehicleQuietHours: Number(fieldText(event, 'vehicle')),
    };
    saved.value = false;
    void action.run(async () => {
      await calls.putSettings({ ...(await calls.settings()), ...limits });
      again();
      saved.value = true;
    });
  };
  const settings = data.value;
  return (
    <section class="panel" aria-labelledby="quiet-heading">
      <h2 id="quiet-heading">Silence</h2>
      <Failure failure={failure.value ?? action.failure.value} />
      {settings && !isShop && (
        <p>
          A board may be silent for {settings.machineQuietMinutes} minutes on a machine or during a run, and
          for {settings.vehicleQuietHours} hours on a vehicle between runs.
        </p>
      )}
      {settings && isShop && (
        <form onSubmit={submit} key={JSON.stringify(settings)}>
          <div class="in-line">
            <Field
              label="Minutes, on a machine or during a run"
              name="machine"
              type="number"
              inputMode="decimal"
              required
              defaultValue={String(settings.machineQuietMinutes)}
              {...{ min: 2, max: 10080, step: 'any' }}
            />
            <Field
              label="Hours, on a vehicle between runs"
              name="vehicle"
              type="number"
              inputMode="decimal"
              required
              defaultValue={String(settings.vehicleQuietHours)}
              {...{ min: 1, max: 2160, step: 'any' }}
            />
          </div>
          <p class="hint">
            A board that announces a longer sleep may be silent for three times that. How long a vehicle may
            go unmeasured is said in its watch plan.
          </p>
          <div class="buttons">
            <button type="submit" disabled={action.busy.value}>
              Save
            </button>
            <span role="status">{saved.value ? 'Saved.' : ''}</span>
          </div>
        </form>
      )}
    </section>
  );
}
