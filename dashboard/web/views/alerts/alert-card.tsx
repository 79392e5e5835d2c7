/** One open alert: what it is and means, and that somebody has seen it. */
import { useSignal } from '@preact/signals';
import { Link } from 'wouter-preact';
import type { Alert } from '../../../contract/alerts.ts';
import type { AlertCalls } from '../../api-alerts.ts';
import { ago, moment, significant } from '../../format.ts';
import { useApp } from '../../state/store.ts';
import { Failure, useAction } from '../actions.tsx';
import { Field, fieldText } from '../forms.tsx';

interface Props {
  alert: Alert;
  calls: Pick<AlertCalls, 'acknowledge'>;
  onChanged(alert: Alert): void;
}

export function AlertCard({ alert, calls, onChanged }: Props) {
  const { nowMs } = useApp();
  const { id, title, meaning, rate, caution, acknowledged, sinceMs, raisedMs, lastSeenMs } = alert;
  const heading = `alert-${id}`;
  const now = nowMs.value;
  return (
    <li class={`panel alert ${acknowledged === null ? 'strong' : ''}`}>
      <h2 id={heading}>{title}</h2>
      {caution && (
        <p class="failure">
          <strong>{caution}</strong>
        </p>
      )}
      <dl>
        <dt>Since</dt>
        <dd>
          {moment(sinceMs, now)} ({ago(now - sinceMs)}), told {moment(raisedMs, now)}
        </dd>
        {alert.limit !== null && alert.value !== null && (
          <>
            <dt>Level and limit</dt>
            <dd>
              {amount(alert.value, alert.unit)}, limit {amount(alert.limit, alert.unit)}
            </dd>
          </>
        )}
        <dt>Last seen</dt>
        <dd>{moment(lastSeenMs, now)}</dd>
        <dt>False alarms</dt>
        <dd>{rate}</dd>
      </dl>
      <p>{meaning}</p>
      <Ways alert={alert} />
      {acknowledged === null ? (
        <Acknowledge id={id} title={title} calls={calls} onChanged={onChanged} />
      ) : (
        <p class="none">
          Acknowledged by {acknowledged.by}, {moment(acknowledged.atMs, now)}
          {acknowledged.note && `: ${acknowledged.note}`}
        </p>
      )}
    </li>
  );
}

function Ways({ alert: { about, locationId, assetId } }: { alert: Alert }) {
  const isOfLevel = about === 'change' || about === 'zone' || about === 'stop-limit';
  return (
    <div class="buttons">
      {isOfLevel && locationId !== null && (
        <Link href={`/location/${locationId}/weeks`} class="button">
          Trend over weeks
        </Link>
      )}
      {locationId !== null && (
        <Link href={`/location/${locationId}`} class="button">
          Location
        </Link>
      )}
      {about === 'node-quiet' && (
        <Link href="/nodes" class="button">
          Nodes
        </Link>
      )}
      {locationId === null && about !== 'node-quiet' && assetId !== null && (
        <Link href={`/assets/${assetId}`} class="button">
          Asset
        </Link>
      )}
    </div>
  );
}

function Acknowledge({ id, title, calls, onChanged }: { id: number; title: string } & Omit<Props, 'alert'>) {
  const action = useAction();
  const asked = useSignal(false);
  const submit = (event: Event) => {
    event.preventDefault();
    const note = fieldText(event, 'note');
    void action.run(async () => onChanged(await calls.acknowledge(id, { note })));
  };
  if (!asked.value) {
    return (
      <button
        type="button"
        onClick={() => {
          asked.value = true;
        }}
      >
        Acknowledge<span class="unseen"> {title}</span>
      </button>
    );
  }
  return (
    <form onSubmit={submit}>
      <Field
        label="Note"
        name="note"
        maxLength={500}
        autocomplete="off"
        hint="What is done about it. Your name and the time are kept with it. The alert stays open until the measurements say that it is over."
      />
      <Failure failure={action.failure.value} />
      <div class="buttons">
        <button type="submit" class="main" disabled={action.busy.value}>
          Acknowledge
        </button>
      </div>
    </form>
  );
}

const amount = (value: number, unit: string): string =>
  unit === 'ratio' ? `${significant(value)} times the baseline` : `${significant(value)} ${unit}`.trim();
