/** How a repair that was put off is waited for: what was agreed, when to measure again, what ends the waiting. */
import { useSignal } from '@preact/signals';
import { useMemo } from 'preact/hooks';
import type { Asset } from '../../../contract/model.ts';
import type { WatchPlan } from '../../../contract/watch-plans.ts';
import { decidingCalls } from '../../api-deciding.ts';
import { dueText } from '../../due-text.ts';
import { day } from '../../format.ts';
import { useApp } from '../../state/store.ts';
import { Failure, useAction, useRead } from '../actions.tsx';
import { Field, fieldText } from '../forms.tsx';
import { AssetFrame } from './frame.tsx';
import { WatchForm } from './watch-form.tsx';

export function WatchPage({ assetId }: { assetId: number }) {
  return (
    <AssetFrame assetId={assetId} title="Watch plan">
      {(asset, asked) => <Plans asset={asset} asked={asked} />}
    </AssetFrame>
  );
}

function Plans({ asset, asked }: { asset: Asset; asked: number | null }) {
  const { api, nowMs } = useApp();
  const calls = useMemo(() => decidingCalls(api.call), [api]);
  const { data, failure, again } = useRead(() => calls.watchPlans(asset.id), String(asset.id));
  const plans = data.value ?? [];
  const open = plans.filter(({ endedMs }) => endedMs === null);
  const ended = plans.filter(({ endedMs }) => endedMs !== null);
  return (
    <>
      <p class="lead">
        A repair that waits is watched: measured again in time, under the same conditions, with an end agreed
        on beforehand.
      </p>
      <Failure failure={failure.value} />
      {open.map((plan) => (
        <OpenPlan key={plan.id} asset={asset} plan={plan} calls={calls} onChanged={again} />
      ))}
      {data.value !== null && open.length === 0 && <p class="panel none">No plan is open.</p>}
      <WatchForm asset={asset} asked={asked} calls={calls} onBegun={again} />
      {ended.length > 0 && (
        <section class="panel" aria-labelledby="ended-plans">
          <h2 id="ended-plans">Plans that have ended</h2>
          <ul class="plain">
            {ended.map((plan) => (
              <li key={plan.id}>
                {placeName(asset, plan.locationId)}, {day(plan.startedMs, nowMs.value)} to{' '}
                {day(plan.endedMs!, nowMs.value)}: {plan.endReason} ({plan.endedBy})
              </li>
            ))}
          </ul>
        </section>
      )}
    </>
  );
}

const placeName = (asset: Asset, locationId: number | null): string =>
  locationId === null
    ? 'The whole asset'
    : (asset.locations.find(({ id }) => id === locationId)?.name ?? 'A location that was deleted');

interface OpenPlanProps {
  asset: Asset;
  plan: WatchPlan;
  calls: Pick<ReturnType<typeof decidingCalls>, 'endWatch'>;
  onChanged(): void;
}

function OpenPlan({ asset, plan, calls, onChanged }: OpenPlanProps) {
  const { nowMs } = useApp();
  const when = (atMs: number) => day(atMs, nowMs.value);
  const { conditions, lastCountedMs, nextDueMs, everyDays } = plan;
  const kind = { road: 'on the road', lift: 'on the lift', bench: 'in its place' }[conditions.kind];
  const under = [
    kind,
    ...conditions.bins,
    conditions.speed && `speed ${conditions.speed}`,
    conditions.load && `load ${conditions.load}`,
    ...conditions.manoeuvres.map((name) => name.replaceAll('-', ' ')),
    conditions.note,
  ].filter((part) => part !== '');
  return (
    <article class="panel" aria-labelledby={`plan-${plan.id}`}>
      <h2 id={`plan-${plan.id}`}>{placeName(asset, plan.locationId)}</h2>
      {plan.caution && (
        <p class="caution-line">
          <strong>{plan.caution}</strong>
        </p>
      )}
      <p>
        Measure again by <strong>{when(nextDueMs!)}</strong>:{' '}
        <strong>{dueText(nextDueMs!, nowMs.value)}</strong>. Every {everyDays}{' '}
        {everyDays === 1 ? 'day' : 'days'}; last measured as agreed{' '}
        {lastCountedMs === null ? 'never since the plan began' : when(lastCountedMs)}.
      </p>
      {plan.everyReason && <p class="hint">{plan.everyReason}</p>}
      <dl>
        <dt>How</dt>
        <dd>{under.join('; ')}</dd>
        <dt>Told</dt>
        <dd>{plan.tell}</dd>
        <dt>Agreed by</dt>
        <dd>
          {plan.agreedBy}, {when(plan.startedMs)} (entered by {plan.startedBy})
        </dd>
      </dl>
      <h3>The waiting ends when</h3>
      <ul>
        {plan.standing.map(({ sentence, reached }) => (
          <li key={sentence}>{reached === true ? <strong>{sentence}</strong> : sentence}</li>
        ))}
        {plan.stopSigns.map(({ text, source }) => (
          <li key={text}>
            {text} {source === 'common-practice' && <span class="hint">(common practice, no source)</span>}
          </li>
        ))}
      </ul>
      <EndForm plan={plan} calls={calls} onChanged={onChanged} />
    </article>
  );
}

function EndForm({ plan, calls, onChanged }: Omit<OpenPlanProps, 'asset'>) {
  const action = useAction();
  const asked = useSignal(false);
  if (!asked.value)
    return (
      <button
        type="button"
        onClick={() => {
          asked.value = true;
        }}
      >
        End this plan
      </button>
    );
  return (
    <form
      onSubmit={(event) => {
        event.preventDefault();
        const reason = fieldText(event, 'reason');
        void action.run(async () => {
          await calls.endWatch(plan.id, reason);
          onChanged();
        });
      }}
    >
      <Field
        label="Why it ends"
        name="reason"
        required
        maxLength={300}
        autocomplete="off"
        hint="For example: repaired, stop limit reached, sold"
      />
      <Failure failure={action.failure.value} />
      <button type="submit" disabled={action.busy.value}>
        End it
      </button>
    </form>
  );
}
