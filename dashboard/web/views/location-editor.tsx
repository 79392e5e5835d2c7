/** Name, component and sensor of one location. */
import { useSignal } from '@preact/signals';
import { Link } from 'wouter-preact';
import type { Location, NodeSummary } from '../../contract/model.ts';
import { mountOptions, parseMount, sensorKey } from '../state/mount-options.ts';
import { useApp, useIsShop } from '../state/store.ts';
import { ConfirmButton, Failure, useAction } from './actions.tsx';
import { Field, fieldText } from './forms.tsx';

interface LocationEditorProps {
  place: Location;
  nodes: readonly NodeSummary[];
  onMounted(): void;
}

export function LocationEditor({ place, nodes, onMounted }: LocationEditorProps) {
  const { api, readAssets, state } = useApp();
  const isShop = useIsShop();
  const action = useAction();
  const done = useSignal(false);
  const options = mountOptions(nodes, state.value.assets ?? [], place);
  const submit = (event: Event) => {
    event.preventDefault();
    const request = { name: fieldText(event, 'name'), component: fieldText(event, 'component') };
    const chosen = fieldText(event, 'mount');
    const isNewMount = chosen !== (place.mount ? sensorKey(place.mount) : '');
    done.value = false;
    void action.run(async () => {
      await api.changeLocation(place.id, request);
      if (isNewMount) await api.mount(place.id, { mount: parseMount(chosen) });
      await readAssets();
      onMounted();
      done.value = true;
    });
  };
  return (
    <section class="panel" aria-label={place.name}>
      <form onSubmit={submit}>
        <div class="in-line">
          <Field
            label="Location"
            name="name"
            required
            maxLength={80}
            autocomplete="off"
            defaultValue={place.name}
          />
          <Field
            label="Component"
            name="component"
            required
            maxLength={80}
            autocomplete="off"
            defaultValue={place.component}
          />
          <label class="select">
            Sensor
            <select name="mount" key={`${options.length} ${place.mount ? sensorKey(place.mount) : ''}`}>
              {options.map(({ key, label, chosen }) => (
                <option key={key} value={key} selected={chosen}>
                  {label}
                </option>
              ))}
            </select>
          </label>
        </div>
        {nodes.length === 0 && (
          <p class="hint">
            No sensor node is enrolled yet. <Link href="/nodes">Enrol one</Link>
          </p>
        )}
        <Failure failure={action.failure.value} />
        <div class="buttons">
          <button type="submit" disabled={action.busy.value}>
            Save
          </button>
          {isShop && (
            <ConfirmButton
              label="Delete"
              question={`Delete ${place.name}?`}
              confirm="Delete"
              onConfirm={async () => {
                await api.deleteLocation(place.id);
                await readAssets();
              }}
            >
              <p>Its sensor becomes free, and no screen shows its trend any more. This cannot be undone.</p>
            </ConfirmButton>
          )}
          <span role="status">{done.value ? 'Saved.' : ''}</span>
        </div>
      </form>
    </section>
  );
}
