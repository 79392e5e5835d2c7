/** A recording made elsewhere becomes a run: the file, then where each channel was measured. */
import { useComputed, useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import type { Location } from '../../contract/model.ts';
import type { ImportRequest, RecordingTaken } from '../../contract/runs.ts';
import { placeNamed, type RecordingDescription, readDescription } from '../state/recording-description.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';
import { Choice, Field, fieldText } from './forms.tsx';
import { Title } from './title.tsx';

type Axis = ImportRequest['channels'][number]['axis'];
const AXES: readonly Axis[] = ['single', 'x', 'y', 'z'];

/** Browsers name these types differently from system to system; the name's ending is the same everywhere. */
const typeOf = (name: string) => (/\.csv$/i.test(name) ? 'text/csv' : 'audio/wav');

export function RunImport() {
  const { api } = useApp();
  const taken = useSignal<RecordingTaken | null>(null);
  const beside = useSignal<RecordingDescription | null>(null);
  const mistake = useSignal('');
  const action = useAction();
  const fileId = useId();
  const besideId = useId();
  return (
    <>
      <Title>Bring in a recording</Title>
      <p class="lead">
        A WAV file of several channels, or a table (CSV) with a time column and acceleration columns at one
        steady rate, recorded anywhere. It can then be compared, heard and looked at as a run. At most 64 MB.
      </p>
      <div class="field narrow">
        <label for={fileId}>File</label>
        <input
          id={fileId}
          type="file"
          accept=".wav,.csv,audio/wav,text/csv"
          onChange={(event) => {
            const file = event.currentTarget.files?.[0];
            taken.value = null;
            if (file === undefined) return;
            void action.run(async () => {
              taken.value = await api.sendRecording(new Blob([file], { type: typeOf(file.name) }));
            });
          }}
        />
      </div>
      <div class="field narrow">
        <label for={besideId}>Description beside a WAV file (JSON), if there is one</label>
        <input
          id={besideId}
          type="file"
          accept=".json,application/json"
          onChange={(event) => {
            const file = event.currentTarget.files?.[0];
            beside.value = null;
            mistake.value = '';
            void file?.text().then((text) => {
              try {
                beside.value = readDescription(text);
              } catch (error) {
                mistake.value = (error as Error).message;
              }
            });
          }}
        />
        <p class="hint">
          Fields: fullScale, unit (g or m/s2), sampleRateHz, startMs, channels with name and axis, marks with
          fromS and toS. As the station saves it beside its own samples.
        </p>
      </div>
      <p role="status">{action.busy.value ? 'Reading the file…' : ''}</p>
      {mistake.value !== '' && (
        <p class="failure" role="alert">
          {mistake.value}
        </p>
      )}
      <Failure failure={action.failure.value} />
      {taken.value && (
        <Places
          key={`${taken.value.recordingId}${JSON.stringify(beside.value)}`}
          recording={taken.value}
          beside={beside.value}
        />
      )}
    </>
  );
}

interface PlacesProps {
  recording: RecordingTaken;
  beside: RecordingDescription | null;
}

function Places({ recording, beside }: PlacesProps) {
  const { state, api, goTo } = useApp();
  const assets = useComputed(() => state.value.assets).value ?? [];
  const chosen = useSignal<number | null>(null);
  const unit = useSignal<'g' | 'm/s2'>(beside?.unit ?? 'g');
  const described = (channel: number) => beside?.channels.find((one) => one.channel === channel);
  const guess = (locations: readonly Location[]) =>
    recording.channels.map((name, channel) => ({
      locationId: placeNamed(described(channel)?.name ?? name, locations),
      axis: described(channel)?.axis ?? ('single' as Axis),
    }));
  const places = useSignal<readonly { locationId: number | null; axis: Axis }[]>(
    guess(assets[0]?.locations ?? []),
  );
  const action = useAction();
  const asset = assets.find(({ id }) => id === chosen.value) ?? assets[0];
  if (asset === undefined) return <p>Add the asset and its locations first, then come back.</p>;
  const set = (channel: number, change: Partial<{ locationId: number | null; axis: Axis }>) => {
    places.value = places.value.map((place, i) => (i === channel ? { ...place, ...change } : place));
  };
  const submit = (event: Event) => {
    event.preventDefault();
    const number = (name: string) => Number(fieldText(event, name).replace(',', '.'));
    const [fromS, toS] = [fieldText(event, 'fromS'), fieldText(event, 'toS')];
    void action.run(async () => {
      const run = await api.importRun({
        recordingId: recording.recordingId,
        assetId: asset.id,
        kind: asset.kind === 'vehicle' ? 'road' : 'bench',
        channels: places.value.flatMap(({ locationId, axis }, channel) =>
          locationId === null ? [] : [{ channel, locationId, axis }],
        ),
        ...(recording.fullScaleMPerS2 === null ? { fullScale: number('fullScale'), unit: unit.value } : {}),
        ...(beside?.startMs === undefined ? {} : { startMs: Math.round(beside.startMs) }),
        ...(beside?.sampleRateHz === undefined ? {} : { sampleRateHz: beside.sampleRateHz }),
        marks: [
          ...(beside?.marks ?? []),
          ...(fromS !== '' && toS !== '' ? [{ fromS: number('fromS'), toS: number('toS') }] : []),
        ],
      });
      goTo(`/runs/${run.id}`);
    });
  };
  return (
    <form onSubmit={submit}>
      <p>
        {recording.channels.length} channels, {Math.round(recording.durationS)} s,{' '}
        {Math.round(recording.sampleRateHz)} samples per second.
      </p>
      <label class="select">
        Vehicle or machine
        <select
          value={asset.id}
          onChange={(event) => {
            chosen.value = Number(event.currentTarget.value);
            places.value = guess(assets.find(({ id }) => id === chosen.value)?.locations ?? []);
          }}
        >
          {assets.map(({ id, name }) => (
            <option key={id} value={id}>
              {name}
            </option>
          ))}
        </select>
      </label>
      {recording.channels.map((name, channel) => (
        <div class="in-line" key={name}>
          <label class="select">
            Location of {name}
            <select
              value={places.value[channel]!.locationId ?? ''}
              onChange={(event) => {
                const { value } = event.currentTarget;
                set(channel, { locationId: value === '' ? null : Number(value) });
              }}
            >
              <option value="">Leave out</option>
              {asset.locations.map(({ id, name: place, component }) => (
                <option key={id} value={id}>
                  {component}: {place}
                </option>
              ))}
            </select>
          </label>
          <label class="select">
            Axis of {name}
            <select
              value={places.value[channel]!.axis}
              onChange={(event) => set(channel, { axis: event.currentTarget.value as Axis })}
            >
              {AXES.map((axis) => (
                <option key={axis} value={axis}>
                  {axis === 'single' ? 'the only one' : axis.toUpperCase()}
                </option>
              ))}
            </select>
          </label>
        </div>
      ))}
      {recording.fullScaleMPerS2 === null && (
        <div class="in-line">
          <Field
            label="Acceleration at full scale"
            name="fullScale"
            required
            inputMode="decimal"
            pattern="[0-9]+([.,][0-9]+)?"
            autocomplete="off"
            hint="What the largest digital value means. Without it there are no levels."
            {...(beside?.fullScale === undefined ? {} : { defaultValue: String(beside.fullScale) })}
          />
          <Choice
            legend="Its unit"
            value={unit.value}
            options={[
              { value: 'g', label: 'g' },
              { value: 'm/s2', label: 'm/s²' },
            ]}
            onChoose={(value) => {
              unit.value = value;
            }}
          />
        </div>
      )}
      <div class="in-line">
        <Field
          label="Noise from second"
          name="fromS"
          inputMode="decimal"
          autocomplete="off"
          hint={beside?.marks.length ? `${beside.marks.length} in the description` : 'Leave empty if always'}
        />
        <Field label="to second" name="toS" inputMode="decimal" autocomplete="off" />
      </div>
      <Failure failure={action.failure.value} />
      <button
        type="submit"
        class="main"
        disabled={action.busy.value || places.value.every(({ locationId }) => locationId === null)}
      >
        Make it a run
      </button>
    </form>
  );
}
