/** What was found when a part was opened, and how often the findings before had been right. */
import { useMemo } from 'preact/hooks';
import type { Asset } from '../../../contract/model.ts';
import type { Damage, Score, StripDown, Tally } from '../../../contract/strip-downs.ts';
import { decidingCalls } from '../../api-deciding.ts';
import { day } from '../../format.ts';
import { useApp, useIsShop } from '../../state/store.ts';
import { ConfirmButton, Failure, useAction, useRead } from '../actions.tsx';
import { Field, fieldText } from '../forms.tsx';
import { AssetFrame, PlaceOptions } from './frame.tsx';

export function OpenedPage({ assetId }: { assetId: number }) {
  return (
    <AssetFrame assetId={assetId} title="Strip-down log">
      {(asset, asked) => <Log asset={asset} asked={asked} />}
    </AssetFrame>
  );
}

function Log({ asset, asked }: { asset: Asset; asked: number | null }) {
  const { api } = useApp();
  const calls = useMemo(() => decidingCalls(api.call), [api]);
  const own = useRead(() => calls.stripDowns(asset.id), String(asset.id));
  const all = useRead(() => calls.stripDowns(null), 'all');
  const again = () => {
    own.again();
    all.again();
  };
  return (
    <>
      <p class="lead">
        Whatever is opened, right or wrong, is written down: only so is it known how far findings can be
        trusted here.
      </p>
      <Failure failure={own.failure.value ?? all.failure.value} />
      {all.data.value && <TallyPanel tally={all.data.value.tally} />}
      {own.data.value?.entries.map((entry) => (
        <Entry key={entry.id} entry={entry} onRemove={() => calls.removeStripDown(entry.id).then(again)} />
      ))}
      <AddForm
        asset={asset}
        asked={asked}
        onAdd={async (request) => {
          await calls.addStripDown(asset.id, request);
          again();
        }}
      />
    </>
  );
}

function TallyPanel({ tally }: { tally: Tally }) {
  const { right, wrong, notClear, notCovered, nothingSaid } = tally;
  return (
    <section class="panel" aria-labelledby="tally-heading">
      <h2 id="tally-heading">How often findings were right, all assets</h2>
      <p>
        <strong>{tally.sentence}</strong>
      </p>
      <dl>
        <dt>Right</dt>
        <dd>{right}</dd>
        <dt>Wrong</dt>
        <dd>{wrong}</dd>
        <dt>Had said “not clear”</dt>
        <dd>{notClear}</dd>
        <dt>Had said “not covered”</dt>
        <dd>{notCovered}</dd>
        <dt>Nobody had looked</dt>
        <dd>{nothingSaid}</dd>
      </dl>
      <p class="hint">
        Parts are opened because something was said of them, so this does not tell how often a finding is
        missed where nothing was opened.
      </p>
    </section>
  );
}

const SCORES: Record<Score, string> = {
  right: 'Right',
  wrong: 'Wrong',
  'not-clear': 'Had said “not clear”',
  'not-covered': 'Had said “not covered”',
  'nothing-said': 'Nobody had looked',
};

function Entry({ entry, onRemove }: { entry: StripDown; onRemove(): Promise<unknown> }) {
  const { nowMs } = useApp();
  const isShop = useIsShop();
  return (
    <article class="panel" aria-labelledby={`opened-${entry.id}`}>
      <h2 id={`opened-${entry.id}`}>
        {entry.part}, {day(entry.openedMs, nowMs.value)}: {SCORES[entry.score]}
      </h2>
      <p>{entry.sentence}</p>
      <p>{entry.condition}</p>
      <p class="hint">
        {entry.location}. Opened by {entry.openedBy}, entered by {entry.enteredBy}.
      </p>
      {isShop && (
        <ConfirmButton
          label="Remove this entry"
          question="Remove this entry?"
          confirm="Remove"
          onConfirm={async () => {
            await onRemove();
          }}
        >
          <p>It no longer counts. Remove what was entered by mistake only, never what was wrong.</p>
        </ConfirmButton>
      )}
    </article>
  );
}

const DAMAGES: readonly { damage: Damage; label: string }[] = [
  { damage: 'outer', label: 'Outer race' },
  { damage: 'inner', label: 'Inner race' },
  { damage: 'ball', label: 'Rolling elements' },
  { damage: 'cage', label: 'Cage' },
  { damage: 'gear', label: 'Gear' },
  { damage: 'shaft-or-joint', label: 'Shaft or joint' },
  { damage: 'other', label: 'Something else' },
];

interface AddProps {
  asset: Asset;
  asked: number | null;
  onAdd(request: Parameters<ReturnType<typeof decidingCalls>['addStripDown']>[1]): Promise<void>;
}

function AddForm({ asset, asked, onAdd }: AddProps) {
  const action = useAction();
  const submit = (event: Event) => {
    event.preventDefault();
    const element = event.currentTarget as HTMLFormElement;
    const form = new FormData(element);
    const typed = fieldText(event, 'at');
    const openedMs = typed === '' ? undefined : new Date(typed).getTime();
    void action.run(async () => {
      await onAdd({
        locationId: Number(form.get('place')),
        part: fieldText(event, 'part'),
        damage: form.getAll('damage').map(String) as Damage[],
        condition: fieldText(event, 'condition'),
        openedBy: fieldText(event, 'openedBy'),
        ...(openedMs === undefined || Number.isNaN(openedMs) ? {} : { openedMs }),
      });
      element.reset();
    });
  };
  return (
    <section class="panel" aria-labelledby="add-opened">
      <h2 id="add-opened">A part was opened</h2>
      <form onSubmit={submit}>
        <div class="in-line">
          <label class="select">
            Location
            <select name="place">
              <PlaceOptions asset={asset} asked={asked} />
            </select>
          </label>
          <Field
            label="Which part"
            name="part"
            required
            maxLength={120}
            autocomplete="off"
            hint="For example: output bearing"
          />
          <Field
            label="Opened when"
            name="at"
            type="datetime-local"
            hint="Empty: now. What had been said by then is scored."
          />
        </div>
        <fieldset class="ticks">
          <legend>Damaged</legend>
          {DAMAGES.map(({ damage, label }) => (
            <label key={damage}>
              <input type="checkbox" name="damage" value={damage} />
              {label}
            </label>
          ))}
        </fieldset>
        <p class="hint">Nothing ticked: everything was in order.</p>
        <div class="in-line">
          <Field
            label="Condition in words"
            name="condition"
            required
            maxLength={1000}
            autocomplete="off"
            hint="How large, how old, what else was seen"
          />
          <Field label="Opened by" name="openedBy" required maxLength={120} autocomplete="off" />
        </div>
        <Failure failure={action.failure.value} />
        <button type="submit" class="main" disabled={action.busy.value}>
          Write it down
        </button>
      </form>
    </section>
  );
}
