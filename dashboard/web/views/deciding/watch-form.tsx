/** A new watch plan, filled in with what the trend suggests. */
import { useSignal } from '@preact/signals';
import type { Asset } from '../../../contract/model.ts';
import type { ManoeuvreId, RunKind } from '../../../contract/runs.ts';
import type { WatchPlanRequest, WatchSuggestion } from '../../../contract/watch-plans.ts';
import type { decidingCalls } from '../../api-deciding.ts';
import { useApp } from '../../state/store.ts';
import { Failure, useAction, useRead } from '../actions.tsx';
import { Field, fieldText } from '../forms.tsx';
import { PlaceOptions, SafetyNotice } from './frame.tsx';
import { limitsOf, StopLimits } from './stop-limits.tsx';

interface Props {
  asset: Asset;
  asked: number | null;
  calls: Pick<ReturnType<typeof decidingCalls>, 'watchSuggestion' | 'beginWatch'>;
  onBegun(): void;
}

export function WatchForm({ asset, asked, calls, onBegun }: Props) {
  const place = useSignal<number | null>(asked);
  const key = `${asset.id} ${place.value}`;
  const { data, failure } = useRead(() => calls.watchSuggestion(asset.id, place.peek()), key);
  return (
    <section class="stack" aria-labelledby="new-plan">
      <h2 id="new-plan">A new plan</h2>
      <label class="select">
        For
        <select
          value={place.value ?? ''}
          onChange={(event) => {
            const chosen = event.currentTarget.value;
            place.value = chosen === '' ? null : Number(chosen);
          }}
        >
          <option value="">The whole asset</option>
          <PlaceOptions asset={asset} />
        </select>
      </label>
      <Failure failure={failure.value} />
      {data.value && (
        <>
          <SafetyNotice caution={data.value.caution} />
          <Filled
            key={`${key} ${JSON.stringify(data.value)}`}
            asset={asset}
            place={place.value}
            suggestion={data.value}
            calls={calls}
            onBegun={onBegun}
          />
        </>
      )}
    </section>
  );
}

interface FilledProps extends Omit<Props, 'asked'> {
  place: number | null;
  suggestion: WatchSuggestion;
}

function Filled({ asset, place, suggestion, calls, onBegun }: FilledProps) {
  const action = useAction();
  const done = useSignal(false);
  const submit = (event: Event) => {
    event.preventDefault();
    const form = new FormData(event.currentTarget as HTMLFormElement);
    const all = (name: string) => form.getAll(name).map(String);
    const everyDays = Number(fieldText(event, 'everyDays').replace(',', '.'));
    const request: WatchPlanRequest = {
      locationId: place,
      everyDays,
      everyReason: everyDays === suggestion.everyDays ? suggestion.reason : fieldText(event, 'everyReason'),
      conditions: {
        kind: (form.get('kind') ?? suggestion.kind) as RunKind,
        manoeuvres: all('manoeuvre') as ManoeuvreId[],
        bins: all('bin'),
        speed: fieldText(event, 'speed'),
        load: fieldText(event, 'load'),
        note: fieldText(event, 'note'),
      },
      stopLimits: limitsOf(form, suggestion.stopLimits),
      stopSigns: [
        ...fieldText(event, 'ownSigns')
          .split('\n')
          .map((line) => line.trim())
          .filter((line) => line !== '')
          .map((text) => ({ text, source: 'own' as const })),
        ...all('sign').map((text) => ({ text, source: 'common-practice' as const })),
      ],
      tell: fieldText(event, 'tell'),
      agreedBy: fieldText(event, 'agreedBy'),
    };
    done.value = false;
    void action.run(async () => {
      await calls.beginWatch(asset.id, request);
      onBegun();
      done.value = true;
    });
  };
  return (
    <form onSubmit={submit}>
      <fieldset class="panel">
        <legend class="unseen">When to measure again</legend>
        <h3>When to measure again</h3>
        <div class="in-line">
          <Field
            label="Every so many days"
            name="everyDays"
            required
            inputMode="decimal"
            pattern="[0-9]+([.,][0-9]+)?"
            autocomplete="off"
            defaultValue={String(suggestion.everyDays)}
            hint={`Suggested: ${suggestion.everyDays}. ${suggestion.reason}`}
          />
          <Field label="Why, if it is another number" name="everyReason" maxLength={500} autocomplete="off" />
        </div>
      </fieldset>
      <Conditions asset={asset} suggestion={suggestion} />
      <StopLimits asset={asset} place={place} suggested={suggestion.stopLimits} />
      <Signs signs={suggestion.signs} />
      <fieldset class="panel">
        <legend class="unseen">Who</legend>
        <h3>Who</h3>
        <div class="in-line">
          <Field
            label="Who is told, and how"
            name="tell"
            required
            maxLength={300}
            autocomplete="off"
            hint="When a limit is reached or a measurement is overdue"
          />
          <Field label="Agreed by" name="agreedBy" required maxLength={200} autocomplete="off" />
        </div>
      </fieldset>
      <Failure failure={action.failure.value} />
      <div class="buttons">
        <button type="submit" class="main" disabled={action.busy.value}>
          Begin this plan
        </button>
        <span role="status">{done.value ? 'Begun: see above.' : ''}</span>
      </div>
      <p class="hint">A plan that is open for the same place ends as replaced.</p>
    </form>
  );
}

const KINDS: readonly { kind: RunKind; label: string }[] = [
  { kind: 'road', label: 'On the road' },
  { kind: 'lift', label: 'On the lift' },
  { kind: 'bench', label: 'In its place' },
];

function Conditions({ asset, suggestion }: { asset: Asset; suggestion: WatchSuggestion }) {
  const { api } = useApp();
  const isVehicle = asset.kind === 'vehicle';
  const guides = useRead(() => (isVehicle ? api.manoeuvres() : Promise.resolve([])), asset.kind);
  return (
    <fieldset class="panel">
      <legend class="unseen">Under which conditions</legend>
      <h3>Under which conditions</h3>
      {isVehicle && (
        <label class="select">
          Kind of run
          <select name="kind" defaultValue={suggestion.kind}>
            {KINDS.map(({ kind, label }) => (
              <option key={kind} value={kind}>
                {label}
              </option>
            ))}
          </select>
        </label>
      )}
      {suggestion.bins.length > 0 && (
        <div class="ticks">
          {suggestion.bins.map((bin) => (
            <label key={bin}>
              <input type="checkbox" name="bin" value={bin} />
              {bin}
            </label>
          ))}
        </div>
      )}
      <p class="hint">
        {isVehicle
          ? 'Ticked: a run counts only if it gave a level in one of these. None: any run that gave a level.'
          : 'Every day on which the machine ran as usual counts.'}
      </p>
      <div class="in-line">
        <Field
          label="Speed"
          name="speed"
          maxLength={200}
          autocomplete="off"
          hint="For example: 50 to 60 km/h"
        />
        <Field
          label="Load"
          name="load"
          maxLength={200}
          autocomplete="off"
          hint="For example: empty, uphill"
        />
        <Field label="Also" name="note" maxLength={500} autocomplete="off" />
      </div>
      {isVehicle && (
        <details>
          <summary>Guided manoeuvres that belong to it</summary>
          <div class="ticks">
            {(guides.data.value ?? []).map(({ id, title }) => (
              <label key={id}>
                <input type="checkbox" name="manoeuvre" value={id} />
                {title}
              </label>
            ))}
          </div>
        </details>
      )}
    </fieldset>
  );
}

function Signs({ signs }: { signs: readonly string[] }) {
  return (
    <fieldset class="panel">
      <legend class="unseen">Plain signs that end the waiting</legend>
      <h3>Plain signs that end the waiting</h3>
      <div class="list">
        {signs.map((sign) => (
          <label key={sign}>
            <input type="checkbox" name="sign" value={sign} defaultChecked />
            <span>{sign}</span>
          </label>
        ))}
      </div>
      <p class="hint">Those above: common practice, no source.</p>
      <div class="field">
        <label for="own-signs">In your own words, one a line</label>
        <textarea id="own-signs" name="ownSigns" rows={3} maxLength={1500} />
      </div>
    </fieldset>
  );
}
