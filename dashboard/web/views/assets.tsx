/** List of assets, and adding one. */
import { useComputed, useSignal } from '@preact/signals';
import { Link } from 'wouter-preact';
import type { AssetRequest } from '../../contract/http.ts';
import type { MachineClass } from '../../contract/model.ts';
import { useApp } from '../state/store.ts';
import { CLASSES } from '../words.ts';
import { Failure, useAction } from './actions.tsx';
import { AlertCount } from './alert-count.tsx';
import { Choice, Field, fieldText } from './forms.tsx';
import { Title } from './title.tsx';

export function Assets() {
  const { state, api, goTo } = useApp();
  const assets = useComputed(() => state.value.assets).value;
  return (
    <>
      <Title>Assets</Title>
      <p class="lead">
        An asset is a vehicle or a machine. Locations are the points on it where sensors sit.
      </p>
      {assets && assets.length > 0 && (
        <ul class="cards">
          {assets.map((asset) => (
            <li key={asset.id} class="panel">
              <h2>
                <Link href={`/assets/${asset.id}`}>{asset.name}</Link>
              </h2>
              <AlertCount assetId={asset.id} />
              <p>
                {asset.kind === 'vehicle' ? 'Vehicle' : 'Machine'}, class {asset.machineClass}.{' '}
                {asset.locations.length} {asset.locations.length === 1 ? 'location' : 'locations'},{' '}
                {asset.locations.filter(({ mount }) => mount !== null).length} with a sensor.
              </p>
            </li>
          ))}
        </ul>
      )}
      <section class="panel narrow" aria-labelledby="add-asset">
        <h2 id="add-asset">Add an asset</h2>
        <AssetForm
          first={{ name: '', kind: 'vehicle', machineClass: 'I' }}
          submitLabel="Add"
          onSubmit={async (request) => goTo(`/assets/${(await api.addAsset(request)).id}`)}
        />
      </section>
    </>
  );
}

interface AssetFormProps {
  first: AssetRequest;
  submitLabel: string;
  onSubmit(request: AssetRequest): Promise<void>;
}

export function AssetForm({ first, submitLabel, onSubmit }: AssetFormProps) {
  const { readAssets } = useApp();
  const action = useAction();
  const kind = useSignal(first.kind);
  const machineClass = useSignal<MachineClass>(first.machineClass);
  const done = useSignal(false);
  const submit = (event: Event) => {
    event.preventDefault();
    const request = {
      name: fieldText(event, 'name'),
      kind: kind.value,
      machineClass: machineClass.value,
    };
    done.value = false;
    void action.run(async () => {
      await onSubmit(request);
      await readAssets();
      done.value = true;
    });
  };
  return (
    <form onSubmit={submit}>
      <Field label="Name" name="name" required maxLength={80} autocomplete="off" defaultValue={first.name} />
      <Choice
        legend="Kind"
        value={kind.value}
        options={[
          { value: 'vehicle', label: 'Vehicle' },
          { value: 'machine', label: 'Machine' },
        ]}
        onChoose={(value) => {
          kind.value = value;
        }}
      />
      <fieldset class="list">
        <legend>Class for the zones (ISO 10816-1)</legend>
        {CLASSES.map((entry) => (
          <label key={entry.machineClass}>
            <input
              type="radio"
              name="machineClass"
              value={entry.machineClass}
              checked={machineClass.value === entry.machineClass}
              onChange={() => {
                machineClass.value = entry.machineClass;
              }}
            />
            <span>
              <strong>Class {entry.machineClass}</strong>, {entry.explanation}. Boundaries{' '}
              {entry.boundariesMmPerS.join(', ')} mm/s.
            </span>
          </label>
        ))}
        <p class="hint">
          No class was made for vehicles. Choose one, keep it for all sister vehicles, and trust the
          comparison with earlier readings more than the letter.
        </p>
      </fieldset>
      <Failure failure={action.failure.value} />
      <div class="buttons">
        <button type="submit" class="main" disabled={action.busy.value}>
          {submitLabel}
        </button>
        <span role="status">{done.value ? 'Saved.' : ''}</span>
      </div>
    </form>
  );
}
