/** Who is told of alerts beyond this page: mail, webhooks, and programs at the station's MQTT broker. */
import { useSignal } from '@preact/signals';
import type { AlertRecipient } from '../../../contract/alerts.ts';
import type { AlertCalls } from '../../api-alerts.ts';
import { moment } from '../../format.ts';
import { useApp } from '../../state/store.ts';
import { ConfirmButton, Failure, useAction, useRead } from '../actions.tsx';
import { Field, fieldText } from '../forms.tsx';

type Calls = Omit<AlertCalls, 'history' | 'acknowledge'>;

export function Recipients({ calls }: { calls: Calls }) {
  const { data, failure, again } = useRead(calls.recipients, '');
  const account = useRead(calls.account, '');
  const secret = useSignal<string | null>(null);
  const canMail = account.data.value?.canMail ?? false;
  return (
    <section class="panel" aria-labelledby="told-heading">
      <h2 id="told-heading">Who is told</h2>
      <Failure failure={failure.value} />
      {data.value?.length === 0 && <p class="none">Nobody yet: alerts show on this page only.</p>}
      {data.value !== null && data.value.length > 0 && (
        <ul class="recipients">
          {data.value.map((recipient) => (
            <Recipient key={recipient.id} recipient={recipient} calls={calls} onChanged={again} />
          ))}
        </ul>
      )}
      {secret.value !== null && (
        <p role="status">
          Secret of the webhook, shown only now: <code>{secret.value}</code>
        </p>
      )}
      <div class="two">
        <AddMail calls={calls} canMail={canMail} onAdded={again} />
        <AddWebhook
          calls={calls}
          onAdded={(added) => {
            secret.value = added;
            again();
          }}
        />
      </div>
      <NamesInMessages calls={calls} />
      {account.data.value && (
        <details>
          <summary>Programs at the station’s MQTT broker</summary>
          <dl>
            <dt>Topic</dt>
            <dd>
              <code>{account.data.value.topic}</code>
            </dd>
            <dt>Account</dt>
            <dd>
              <code>{account.data.value.username}</code>
            </dd>
            <dt>Password</dt>
            <dd>
              {account.data.value.password ? <code>{account.data.value.password}</code> : 'not known here'}
            </dd>
          </dl>
          <p class="hint">Each open alert is kept there as JSON until it is over.</p>
        </details>
      )}
    </section>
  );
}

function NamesInMessages({ calls }: { calls: Pick<Calls, 'settings' | 'putSettings'> }) {
  const { data, failure, again } = useRead(calls.settings, '');
  const action = useAction();
  return (
    <div>
      <Failure failure={failure.value ?? action.failure.value} />
      {data.value && (
        <label class="tick">
          <input
            type="checkbox"
            checked={data.value.namesInMessages}
            disabled={action.busy.value}
            onChange={(event) => {
              const namesInMessages = event.currentTarget.checked;
              void action.run(async () => {
                await calls.putSettings({ ...(await calls.settings()), namesInMessages });
                again();
              });
            }}
          />
          Messages name assets, locations and boards as they are named here; else they give numbers
        </label>
      )}
      <p class="hint">
        Who acknowledged an alert, notes, runs and complaints never leave the station this way. Keep plates
        and owners out of names.
      </p>
    </div>
  );
}

function Recipient({
  recipient,
  calls,
  onChanged,
}: {
  recipient: AlertRecipient;
  calls: Calls;
  onChanged(): void;
}) {
  const { nowMs } = useApp();
  const test = useAction();
  const sent = useSignal(false);
  const { id, kind, target, lastSentMs, waiting, problem } = recipient;
  return (
    <li>
      <p>
        <strong>{kind === 'email' ? 'Mail' : 'Webhook'}</strong> {target}
      </p>
      <p class="none">
        {lastSentMs === null ? 'Nothing sent yet' : `Last alert sent ${moment(lastSentMs, nowMs.value)}`}
        {waiting > 0 && `; ${waiting} waiting, tried again for three days`}
        {problem && `. ${problem}`}
      </p>
      <Failure failure={test.failure.value} />
      <div class="buttons">
        <button
          type="button"
          disabled={test.busy.value}
          onClick={() => {
            sent.value = false;
            void test.run(async () => {
              await calls.test(id);
              sent.value = true;
            });
          }}
        >
          Send a test message<span class="unseen"> to {target}</span>
        </button>
        <ConfirmButton
          label="Remove"
          question={`Tell ${target} no more?`}
          confirm="Remove"
          onConfirm={async () => {
            await calls.removeRecipient(id);
            onChanged();
          }}
        >
          <p>Messages that still wait for this address go too.</p>
        </ConfirmButton>
        <span role="status">{sent.value ? 'It was taken.' : ''}</span>
      </div>
    </li>
  );
}

function AddMail({ calls, canMail, onAdded }: { calls: Calls; canMail: boolean; onAdded(): void }) {
  const action = useAction();
  const submit = (event: Event) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const address = fieldText(event, 'address');
    void action.run(async () => {
      await calls.addRecipient({ kind: 'email', address });
      form.reset();
      onAdded();
    });
  };
  return (
    <form onSubmit={submit}>
      <Field
        label="Mail address"
        name="address"
        type="email"
        required
        maxLength={254}
        autocomplete="off"
        {...(canMail
          ? {}
          : { hint: 'Needs a mail server: start the station with --smtp-url and --smtp-from.' })}
      />
      <Failure failure={action.failure.value} />
      <button type="submit" disabled={action.busy.value}>
        Add mail address
      </button>
    </form>
  );
}

function AddWebhook({ calls, onAdded }: { calls: Calls; onAdded(secret: string | null): void }) {
  const action = useAction();
  const submit = (event: Event) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const url = fieldText(event, 'url');
    void action.run(async () => {
      const { secret } = await calls.addRecipient({ kind: 'webhook', url });
      form.reset();
      onAdded(secret ?? null);
    });
  };
  return (
    <form onSubmit={submit}>
      <Field
        label="Webhook address"
        name="url"
        type="url"
        required
        maxLength={500}
        autocomplete="off"
        hint="Gets JSON by POST, signed with a secret. Public https addresses only, unless the station was started otherwise."
      />
      <Failure failure={action.failure.value} />
      <button type="submit" disabled={action.busy.value}>
        Add webhook
      </button>
    </form>
  );
}
