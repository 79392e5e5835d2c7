/** Did the repair help? A criterion first, then the repair, then the same kind of run again. */
import { useMemo } from 'preact/hooks';
import type { Asset, TrendValue } from '../../../contract/model.ts';
import type { RepairCheck } from '../../../contract/repair-checks.ts';
import { decidingCalls } from '../../api-deciding.ts';
import { day, significant } from '../../format.ts';
import { useApp } from '../../state/store.ts';
import { VALUES, valueWords } from '../../words.ts';
import { ConfirmButton, Failure, useAction, useRead } from '../actions.tsx';
import { Field, fieldText } from '../forms.tsx';
import { AssetFrame, PlaceOptions } from './frame.tsx';
import { RepairRuns } from './repair-runs.tsx';

type Calls = ReturnType<typeof decidingCalls>;

export function RepairPage({ assetId }: { assetId: number }) {
  return (
    <AssetFrame assetId={assetId} title="Verify a repair">
      {(asset, asked) => <Checks asset={asset} asked={asked} />}
    </AssetFrame>
  );
}

function Checks({ asset, asked }: { asset: Asset; asked: number | null }) {
  const { api } = useApp();
  const calls = useMemo(() => decidingCalls(api.call), [api]);
  const { data, failure, again } = useRead(() => calls.repairChecks(asset.id), String(asset.id));
  return (
    <>
      <p class="lead">
        First say in numbers what counts as repaired. Then note the repair, make the same kind of run again,
        and read the result. Only runs in the same conditions are compared.
      </p>
      <Failure failure={failure.value} />
      {data.value?.map((check) => (
        <Check key={check.id} asset={asset} check={check} calls={calls} onChanged={again} />
      ))}
      <StateForm asset={asset} asked={asked} calls={calls} onStated={again} />
    </>
  );
}

interface CheckProps {
  asset: Asset;
  check: RepairCheck;
  calls: Calls;
  onChanged(): void;
}

function Check({ asset, check, calls, onChanged }: CheckProps) {
  const { nowMs } = useApp();
  const when = (atMs: number) => day(atMs, nowMs.value);
  const { result, repairedMs, concludedMs } = check;
  const one = asset.kind === 'vehicle' ? 'runs' : 'days';
  return (
    <article class="panel" aria-labelledby={`check-${check.id}`}>
      <h2 id={`check-${check.id}`}>
        {check.location}, {valueWords(check.value).name}
      </h2>
      <p>
        <strong>{result.sentence}</strong>
      </p>
      <dl>
        <dt>Asked for</dt>
        <dd>
          lower by at least {significant(check.leastFallDb)} dB (to{' '}
          {significant(100 * 10 ** (-check.leastFallDb / 20), 2)} % of before), stated by {check.statedBy} on{' '}
          {when(check.statedMs)}
          {check.note && `: ${check.note}`}
        </dd>
        <dt>Repaired</dt>
        <dd>
          {repairedMs === null
            ? 'not noted yet'
            : `${when(repairedMs)}${check.repairNote ? `, ${check.repairNote}` : ''}`}
        </dd>
        {result.lowDb !== null && result.highDb !== null && (
          <>
            <dt>Change</dt>
            <dd>
              {signed(result.changeDb!)} dB, 95 % range {signed(result.lowDb)} to {signed(result.highDb)} dB
            </dd>
          </>
        )}
      </dl>
      {result.bins.length > 0 && (
        <table class="values">
          <thead>
            <tr>
              <th scope="col">Condition</th>
              <th scope="col" class="figure">
                Before
              </th>
              <th scope="col" class="figure">
                After
              </th>
              <th scope="col" class="figure">
                dB
              </th>
            </tr>
          </thead>
          <tbody>
            {result.bins.map(({ bin, before, after, changeDb }) => (
              <tr key={bin}>
                <th scope="row">{bin === 'any' ? 'Whole days' : bin}</th>
                <td class="figure">{before}</td>
                <td class="figure">{after}</td>
                <td class="figure">{changeDb === null ? '–' : signed(changeDb)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      {result.bins.length > 0 && (
        <p class="hint">
          Number of {one} of each condition, at most the twelve nearest to the repair. A condition counts from
          three on each side; one alone needs four.
        </p>
      )}
      {concludedMs === null ? (
        <>
          <RepairRuns check={check} calls={calls} onChanged={onChanged} />
          <DoneForm check={check} calls={calls} onChanged={onChanged} />
          <ConfirmButton
            label="Conclude"
            look=""
            question="Conclude this check?"
            confirm="Conclude"
            onConfirm={async () => {
              await calls.concludeRepair(check.id);
              onChanged();
            }}
          >
            <p>The result is kept as it is now: “{result.sentence}”</p>
          </ConfirmButton>
        </>
      ) : (
        <p class="hint">
          Concluded on {when(concludedMs)} by {check.concludedBy}.
        </p>
      )}
    </article>
  );
}

const signed = (db: number): string => `${db > 0 ? '+' : db < 0 ? '−' : ''}${Math.abs(db).toFixed(1)}`;

function DoneForm({ check, calls, onChanged }: Omit<CheckProps, 'asset'>) {
  const action = useAction();
  const submit = (event: Event) => {
    event.preventDefault();
    const form = new FormData(event.currentTarget as HTMLFormElement);
    const typed = fieldText(event, 'at');
    const atMs = typed === '' ? undefined : new Date(typed).getTime();
    void action.run(async () => {
      await calls.repaired(check.id, {
        note: fieldText(event, 'done'),
        sensorPutBack: form.has('sensorPutBack'),
        ...(atMs === undefined || Number.isNaN(atMs) ? {} : { atMs }),
      });
      onChanged();
    });
  };
  return (
    <details open={check.repairedMs === null}>
      <summary>{check.repairedMs === null ? 'Note the repair' : 'Correct the repair'}</summary>
      <form onSubmit={submit}>
        <div class="in-line">
          <Field label="Repaired when" name="at" type="datetime-local" hint="Empty: now" />
          <Field
            label="What was done"
            name="done"
            maxLength={300}
            autocomplete="off"
            defaultValue={check.repairNote ?? ''}
          />
        </div>
        <div class="ticks">
          <label>
            <input type="checkbox" name="sensorPutBack" defaultChecked={check.sensorPutBack} />
            <span>The sensor was off and sits at the same marked spot in the same direction again</span>
          </label>
        </div>
        <p class="hint">A new baseline begins with it: levels before and after are not mixed in any trend.</p>
        <Failure failure={action.failure.value} />
        <button type="submit" disabled={action.busy.value}>
          Note the repair
        </button>
      </form>
    </details>
  );
}

/** Levels, of which a change in dB means what people think it means. */
const LEVELS: readonly TrendValue[] = [
  'velocityRmsMmPerS',
  'accelerationRmsMPerS2',
  'accelerationPeakMPerS2',
];

function StateForm({
  asset,
  asked,
  calls,
  onStated,
}: {
  asset: Asset;
  asked: number | null;
  calls: Calls;
  onStated(): void;
}) {
  const action = useAction();
  const submit = (event: Event) => {
    event.preventDefault();
    const element = event.currentTarget as HTMLFormElement;
    const form = new FormData(element);
    void action.run(async () => {
      await calls.stateRepair(asset.id, {
        locationId: Number(form.get('place')),
        value: String(form.get('value')) as TrendValue,
        leastFallDb: Number(fieldText(event, 'leastFallDb').replace(',', '.')),
        statedBy: fieldText(event, 'statedBy'),
        note: fieldText(event, 'note'),
      });
      element.reset();
      onStated();
    });
  };
  return (
    <section class="panel" aria-labelledby="state-heading">
      <h2 id="state-heading">What counts as repaired</h2>
      <form onSubmit={submit}>
        <div class="in-line">
          <label class="select">
            Location
            <select name="place">
              <PlaceOptions asset={asset} asked={asked} />
            </select>
          </label>
          <label class="select">
            Value
            <select name="value">
              {VALUES.filter(({ key }) => LEVELS.includes(key)).map(({ key, name }) => (
                <option key={key} value={key}>
                  {name}
                </option>
              ))}
            </select>
          </label>
          <Field
            label="Lower by at least, dB"
            name="leastFallDb"
            required
            inputMode="decimal"
            pattern="[0-9]+([.,][0-9]+)?"
            autocomplete="off"
            hint="6 dB is half, 3.5 dB two thirds, 10 dB a third"
          />
        </div>
        <div class="in-line">
          <Field label="Stated by" name="statedBy" required maxLength={120} autocomplete="off" />
          <Field label="Note" name="note" maxLength={500} autocomplete="off" />
        </div>
        <Failure failure={action.failure.value} />
        <button type="submit" class="main" disabled={action.busy.value}>
          State it
        </button>
      </form>
    </section>
  );
}
