/** What happened to an asset: noted by people, marked in every trend of it. */
import { useSignal } from '@preact/signals';
import type { EventKind, LocationTrend } from '../../../contract/weeks.ts';
import type { weekCalls } from '../../api-weeks.ts';
import { moment } from '../../format.ts';
import { useApp } from '../../state/store.ts';
import { Failure, useAction } from '../actions.tsx';
import { Field, fieldText } from '../forms.tsx';

const KINDS: readonly { kind: EventKind; label: string }[] = [
  { kind: 'repair', label: 'Repair' },
  { kind: 'oil-change', label: 'Oil change' },
  { kind: 'new-tyre', label: 'New tyre' },
  { kind: 'other', label: 'Other work' },
  { kind: 'note', label: 'Note only' },
];

interface Props {
  trend: LocationTrend;
  calls: Pick<ReturnType<typeof weekCalls>, 'addEvent' | 'removeEvent'>;
  onChanged(): void;
}

export function Events({ trend, calls, onChanged }: Props) {
  const { nowMs } = useApp();
  const action = useAction();
  const kind = useSignal<EventKind>('repair');
  const submit = (event: Event) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const typed = fieldText(event, 'at');
    const atMs = typed === '' ? undefined : new Date(typed).getTime();
    const request = {
      kind: kind.value,
      note: fieldText(event, 'note'),
      ...(atMs === undefined || Number.isNaN(atMs) ? {} : { atMs }),
    };
    void action.run(async () => {
      await calls.addEvent(trend.assetId, request);
      form.reset();
      onChanged();
    });
  };
  return (
    <section class="panel" aria-labelledby="events-heading">
      <h2 id="events-heading">What was done to {trend.assetName}</h2>
      {trend.events.length === 0 && trend.stretches.length === 0 && <p class="none">Nothing noted.</p>}
      <ul class="mark-list">
        {trend.events.map(({ id, atMs, kind: done, note, by }) => (
          <li key={id}>
            <span>
              {moment(atMs, nowMs.value)}: {KINDS.find((entry) => entry.kind === done)?.label}
              {note && `, ${note}`}
              {by && ` (${by})`}
            </span>
            <button
              type="button"
              class="quiet"
              onClick={() =>
                void action.run(async () => {
                  await calls.removeEvent(trend.assetId, id);
                  onChanged();
                })
              }
            >
              Remove<span class="unseen"> the event of {moment(atMs, nowMs.value)}</span>
            </button>
          </li>
        ))}
        {trend.stretches
          .filter(({ fromMs }) => !trend.events.some(({ atMs }) => atMs === fromMs))
          .map(({ fromMs, reason }) => (
            <li key={fromMs}>
              {moment(fromMs, nowMs.value)}: {reason}
            </li>
          ))}
      </ul>
      <form onSubmit={submit}>
        <div class="in-line">
          <label class="select">
            What
            <select
              value={kind.value}
              onChange={(event) => {
                kind.value = event.currentTarget.value as EventKind;
              }}
            >
              {KINDS.map(({ kind: name, label }) => (
                <option key={name} value={name}>
                  {label}
                </option>
              ))}
            </select>
          </label>
          <Field label="When" name="at" type="datetime-local" hint="Empty: now" />
          <Field label="Details" name="note" maxLength={300} autocomplete="off" />
        </div>
        <p class="hint">
          All but a note begin a new stretch: levels before and after are not compared, and a new baseline is
          taken.
        </p>
        <Failure failure={action.failure.value} />
        <button type="submit" disabled={action.busy.value}>
          Note it
        </button>
      </form>
    </section>
  );
}
