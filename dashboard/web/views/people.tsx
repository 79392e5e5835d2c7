/** One's own password; for the shop also who may use the station. */
import { useSignal } from '@preact/signals';
import { useMemo } from 'preact/hooks';
import type { PersonEntry, Role } from '../../contract/people.ts';
import { peopleCalls } from '../api-people.ts';
import { day } from '../format.ts';
import { useApp, useIsShop } from '../state/store.ts';
import { ConfirmButton, Failure, useAction, useRead } from './actions.tsx';
import { Choice, Field, fieldText } from './forms.tsx';
import { Title } from './title.tsx';

const ROLES = [
  { value: 'technician', label: 'Technician' },
  { value: 'shop', label: 'Shop' },
] as const satisfies readonly { value: Role; label: string }[];
const roleName = (role: Role) => ROLES.find(({ value }) => value === role)!.label;

const NEW_PASSWORD = {
  type: 'password',
  required: true,
  minLength: 10,
  maxLength: 200,
  autocomplete: 'new-password',
} as const;

export function People() {
  const isShop = useIsShop();
  return (
    <>
      <Title>People</Title>
      <OwnPassword />
      {isShop ? <Everybody /> : <p>Somebody with the role shop lets others in.</p>}
    </>
  );
}

function usePeopleApi() {
  const { api } = useApp();
  return useMemo(() => peopleCalls(api.call), [api]);
}

function OwnPassword() {
  const people = usePeopleApi();
  const action = useAction();
  const done = useSignal(false);
  const submit = (event: Event) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const fields = new FormData(form);
    const request = { current: String(fields.get('current')), password: fieldText(event, 'password') };
    done.value = false;
    void action.run(async () => {
      await people.ownPassword(request);
      form.reset();
      done.value = true;
    });
  };
  return (
    <section class="panel" aria-labelledby="own-heading">
      <h2 id="own-heading">Your password</h2>
      <form onSubmit={submit}>
        <div class="in-line">
          <Field
            label="Present password"
            name="current"
            type="password"
            required
            autocomplete="current-password"
          />
          <Field label="New password" name="password" {...NEW_PASSWORD} hint="At least 10 characters." />
        </div>
        <Failure failure={action.failure.value} />
        <button type="submit" class="main" disabled={action.busy.value}>
          Change it
        </button>
        <p role="status">{done.value && 'Changed. You are signed out on all other devices.'}</p>
      </form>
    </section>
  );
}

function Everybody() {
  const people = usePeopleApi();
  const { data, failure, again } = useRead(() => people.people(), '');
  return (
    <>
      <section class="panel" aria-labelledby="people-heading">
        <h2 id="people-heading">Who may use this station</h2>
        <Failure failure={failure.value} />
        <ul class="waiting">
          {data.value?.map((person) => (
            <OnePerson key={`${person.id} ${person.role}`} person={person} onChanged={again} />
          ))}
        </ul>
        <p>
          A technician sees everything, makes runs and looks after assets and sensors. The shop also enrols
          nodes, deletes, and lets people in.
        </p>
      </section>
      <LetIn onDone={again} />
    </>
  );
}

function OnePerson({ person, onChanged }: { person: PersonEntry; onChanged(): void }) {
  const { nowMs } = useApp();
  const people = usePeopleApi();
  const action = useAction();
  const asks = useSignal(false);
  const other: Role = person.role === 'shop' ? 'technician' : 'shop';
  const setPassword = (event: Event) => {
    event.preventDefault();
    const password = fieldText(event, 'password');
    void action.run(async () => {
      await people.change(person.id, { password });
      asks.value = false;
    });
  };
  return (
    <li>
      <p>
        <strong>{person.name}</strong>, {roleName(person.role).toLowerCase()}, since{' '}
        {day(person.createdMs, nowMs.peek())}
        {person.you && ' (you)'}
      </p>
      {!person.you && (
        <div class="buttons">
          <button
            type="button"
            class="quiet"
            disabled={action.busy.value}
            aria-label={`Make ${person.name} ${roleName(other).toLowerCase()}`}
            onClick={() =>
              void action.run(async () => {
                await people.change(person.id, { role: other });
                onChanged();
              })
            }
          >
            Make {roleName(other).toLowerCase()}
          </button>
          <button
            type="button"
            class="quiet"
            aria-label={`New password for ${person.name}`}
            aria-expanded={asks.value}
            onClick={() => {
              asks.value = !asks.value;
            }}
          >
            New password
          </button>
          <ConfirmButton
            label="Remove"
            question={`Remove ${person.name}?`}
            confirm="Remove"
            onConfirm={async () => {
              await people.remove(person.id);
              onChanged();
            }}
          >
            {person.name} is signed out at once. Runs and notes stay, with the name.
          </ConfirmButton>
        </div>
      )}
      {asks.value && (
        <form onSubmit={setPassword}>
          <Field
            label={`New password for ${person.name}`}
            name="password"
            {...NEW_PASSWORD}
            hint="Signs this person out everywhere."
          />
          <button type="submit" class="main" disabled={action.busy.value}>
            Set it
          </button>
        </form>
      )}
      <Failure failure={action.failure.value} />
    </li>
  );
}

function LetIn({ onDone }: { onDone(): void }) {
  const people = usePeopleApi();
  const action = useAction();
  const role = useSignal<Role>('technician');
  const submit = (event: Event) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const request = {
      name: fieldText(event, 'name'),
      password: fieldText(event, 'password'),
      role: role.value,
    };
    void action.run(async () => {
      await people.letIn(request);
      form.reset();
      onDone();
    });
  };
  return (
    <section class="panel" aria-labelledby="let-in-heading">
      <h2 id="let-in-heading">Let somebody in</h2>
      <form onSubmit={submit}>
        <div class="in-line">
          <Field label="Name" name="name" required maxLength={80} autocomplete="off" />
          <Field
            label="First password"
            name="password"
            {...NEW_PASSWORD}
            hint="At least 10 characters; to be changed by the person."
          />
        </div>
        <Choice
          legend="Role"
          value={role.value}
          options={ROLES}
          onChoose={(value) => {
            role.value = value;
          }}
        />
        <Failure failure={action.failure.value} />
        <button type="submit" class="main" disabled={action.busy.value}>
          Let in
        </button>
      </form>
    </section>
  );
}
