/** What the shop sets for all mounts. */
import { useSignal } from '@preact/signals';
import type { StationSettings } from '../../contract/rig.ts';
import { useApp, useIsShop } from '../state/store.ts';
import { Failure, useAction, useRead } from './actions.tsx';
import { Field, fieldText } from './forms.tsx';

export function StationLimits() {
  const { api } = useApp();
  const isShop = useIsShop();
  const { data, failure, again } = useRead<StationSettings>(() => api.settings(), '');
  const action = useAction();
  const saved = useSignal(false);
  const submit = (event: Event) => {
    event.preventDefault();
    const mountTurnDeg = Number(fieldText(event, 'mountTurnDeg'));
    saved.value = false;
    void action.run(async () => {
      await api.changeSettings({ mountTurnDeg });
      again();
      saved.value = true;
    });
  };
  return (
    <section class="panel" aria-labelledby="limits-heading">
      <h2 id="limits-heading">Moved mounts</h2>
      <p>
        Gravity shows how each sensor sits. One that turns by more than this for most of a minute, while the
        others on the same vehicle do not, has moved in its clamp: its trend begins a new stretch.
      </p>
      <Failure failure={failure.value ?? action.failure.value} />
      {data.value && isShop && (
        <form onSubmit={submit} key={data.value.mountTurnDeg}>
          <Field
            label="Angle in degrees"
            name="mountTurnDeg"
            type="number"
            inputMode="decimal"
            required
            defaultValue={String(data.value.mountTurnDeg)}
            {...{ min: 3, max: 45, step: 1 }}
            hint="3 to 45. A road of 10 % turns a vehicle by 5.7 degrees."
          />
          <div class="buttons">
            <button type="submit" disabled={action.busy.value}>
              Save
            </button>
            <span role="status">{saved.value ? 'Saved.' : ''}</span>
          </div>
        </form>
      )}
      {data.value && !isShop && <p>Angle: {data.value.mountTurnDeg} degrees.</p>}
    </section>
  );
}
