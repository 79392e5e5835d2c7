/** What turns in an asset: speed or ratios, tyre, and a bearing at each location. */
import { useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import type { DriveTrain, KnownBearing } from '../../contract/drive-train.ts';
import type { Asset, Location } from '../../contract/model.ts';
import { ApiFailure } from '../api.ts';
import { type FieldMistake, fieldsOf, trainFromFields, usualShafts } from '../state/drive-train-form.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction, useRead } from './actions.tsx';
import { Field } from './forms.tsx';

export function DriveTrainPanel({ asset }: { asset: Asset }) {
  const { api } = useApp();
  const read = useRead<DriveTrain>(() => api.driveTrain(asset.id), String(asset.id));
  const train = read.data.value;
  return (
    <section class="panel" aria-labelledby="drive-train-heading">
      <h2 id="drive-train-heading">What turns in it</h2>
      <p class="hint">
        With speeds and bearings known, findings can name the part that makes a line. A designation fixes the
        outer dimensions alone: where the maker’s numbers are at hand, write them as elements, element
        diameter, pitch diameter (mm), contact angle (degrees), for example 9,7.94,39.04,0.
      </p>
      <Failure failure={read.failure.value} />
      {train && (
        <TrainForm
          key={JSON.stringify([train, asset.locations.length])}
          asset={asset}
          train={train}
          onSaved={read.again}
        />
      )}
    </section>
  );
}

interface TrainFormProps {
  asset: Asset;
  train: DriveTrain;
  onSaved(): void;
}

function TrainForm({ asset, train, onSaved }: TrainFormProps) {
  const { api } = useApp();
  const known = useRead<KnownBearing[]>(() => api.knownBearings(), '');
  const action = useAction();
  const wrong = useSignal<FieldMistake | null>(null);
  const done = useSignal(false);
  const listId = useId();
  const first = fieldsOf(train);
  const shafts = train.shafts.length > 0 ? train.shafts : usualShafts(asset.kind);
  const submit = (event: Event) => {
    event.preventDefault();
    const form = new FormData(event.currentTarget as HTMLFormElement);
    const text = (name: string) => String(form.get(name) ?? '').trim();
    const request = trainFromFields(asset.kind, train, {
      nominalSpeedRpm: text('nominalSpeedRpm'),
      blades: text('blades'),
      gearRatios: text('gearRatios'),
      finalDrive: text('finalDrive'),
      tyreSize: text('tyreSize'),
      bearings: asset.locations.map(({ id }) => ({
        locationId: id,
        bearing: text(`bearing-${id}`),
        shaft: text(`shaft-${id}`),
        outerRing: text(`ring-${id}`) === 'turning' ? 'turning' : 'standing',
      })),
    });
    done.value = false;
    if ('field' in request) {
      wrong.value = request;
      return;
    }
    wrong.value = null;
    void action.run(async () => {
      try {
        await api.putDriveTrain(asset.id, request);
      } catch (error) {
        const own = error instanceof ApiFailure ? formField(error.field, request) : null;
        if (own === null) throw error;
        wrong.value = { field: own, message: (error as ApiFailure).message };
        return;
      }
      done.value = true;
      onSaved();
    });
  };
  const hint = (field: string, usual: string) =>
    wrong.value?.field === field
      ? { hint: <strong role="alert">{wrong.value.message}</strong>, 'aria-invalid': true }
      : { hint: usual };
  return (
    <form onSubmit={submit}>
      <div class="in-line">
        {asset.kind === 'machine' ? (
          <>
            <Field
              label="Speed, revolutions per minute"
              name="nominalSpeedRpm"
              inputMode="decimal"
              autocomplete="off"
              defaultValue={first.nominalSpeedRpm}
              {...hint('nominalSpeedRpm', 'For a machine that always turns at one speed')}
            />
            <Field
              label="Blades"
              name="blades"
              inputMode="numeric"
              autocomplete="off"
              defaultValue={first.blades}
              {...hint('blades', 'Of a fan or pump; empty for none')}
            />
          </>
        ) : (
          <>
            <Field
              label="Gear ratios"
              name="gearRatios"
              autocomplete="off"
              defaultValue={first.gearRatios}
              {...hint('gearRatios', 'Engine turns per turn of the output shaft: 1=4.2, 2=2.3')}
            />
            <Field
              label="Final drive"
              name="finalDrive"
              autocomplete="off"
              defaultValue={first.finalDrive}
              {...hint('finalDrive', 'Ratio (3.9) or teeth of pinion and wheel (11/43)')}
            />
            <Field
              label="Tyre size"
              name="tyreSize"
              autocomplete="off"
              defaultValue={first.tyreSize}
              {...hint('tyreSize', 'As on the side wall: 205/65 R16')}
            />
          </>
        )}
      </div>
      {asset.locations.map((place) => (
        <BearingRow
          key={place.id}
          {...{ place, train, shafts, listId }}
          {...hint(`bearing-${place.id}`, '')}
        />
      ))}
      <datalist id={listId}>
        {(known.data.value ?? []).map(({ designation }) => (
          <option key={designation} value={designation} />
        ))}
      </datalist>
      <Failure failure={action.failure.value} />
      <div class="buttons">
        <button type="submit" disabled={action.busy.value}>
          Save what turns
        </button>
        <span role="status">{done.value ? 'Saved.' : ''}</span>
      </div>
    </form>
  );
}

interface BearingRowProps {
  place: Location;
  train: DriveTrain;
  shafts: string[];
  listId: string;
}

function BearingRow({ place, train, shafts, listId, ...hint }: BearingRowProps) {
  const entry = train.bearings.find(({ locationId }) => locationId === place.id);
  return (
    <fieldset>
      <legend>
        Bearing heard at {place.name}, {place.component}
      </legend>
      <div class="in-line">
        <Field
          label="Bearing"
          name={`bearing-${place.id}`}
          autocomplete="off"
          maxLength={60}
          defaultValue={entry?.bearing ?? ''}
          {...{ list: listId }}
          {...hint}
        />
        <label class="select">
          Turns with
          <select name={`shaft-${place.id}`}>
            {shafts.map((shaft) => (
              <option key={shaft} value={shaft} selected={shaft === entry?.shaft}>
                {shaft}
              </option>
            ))}
          </select>
        </label>
        <label class="select">
          Outer ring
          <select name={`ring-${place.id}`}>
            <option value="standing">stands</option>
            <option value="turning" selected={entry?.outerRing === 'turning'}>
              turns (many wheel hubs)
            </option>
          </select>
        </label>
      </div>
    </fieldset>
  );
}

/** The form's field that a refused path of the request belongs to; null when the form does not show it. */
function formField(path: string | undefined, request: DriveTrain): string | null {
  if (path === undefined) return null;
  const bearing = /^bearings\.(\d+)/.exec(path);
  if (bearing) return `bearing-${request.bearings[Number(bearing[1])]?.locationId}`;
  if (path.startsWith('tyre')) return 'tyreSize';
  const coupling = /^couplings\.(\d+)/.exec(path);
  if (coupling) {
    const name = request.couplings[Number(coupling[1])]?.name;
    return name === 'gearbox' ? 'gearRatios' : name === 'final drive' ? 'finalDrive' : null;
  }
  return path === 'nominalSpeedRpm' ? path : path.startsWith('blades') ? 'blades' : null;
}
