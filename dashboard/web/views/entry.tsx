/** First start and sign-in. */
import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { Link } from 'wouter-preact';
import type { SessionState } from '../../contract/model.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';
import { Field, fieldText } from './forms.tsx';
import { Title } from './title.tsx';

/** The token is a secret: it is taken out of the address, so that it stays in no history and no screenshot. */
function takeTokenFromAddress(): string {
  const token = decodeURIComponent(location.hash.slice(1));
  if (token !== '') history.replaceState(null, '', location.pathname);
  return token;
}

export function Setup({ session }: { session: SessionState }) {
  const app = useApp();
  const action = useAction();
  const token = useSignal('');
  useEffect(() => {
    token.value = takeTokenFromAddress();
  }, [token]);

  if (!session.setupNeeded)
    return (
      <div class="entry">
        <Title>Already set up</Title>
        <p>This station has its first account. The setup link works only once.</p>
        <p>
          <Link href="/" class="button">
            {session.person ? 'Go to the levels' : 'Sign in'}
          </Link>
        </p>
      </div>
    );

  const submit = (event: Event) => {
    event.preventDefault();
    const request = {
      token: token.value || fieldText(event, 'token').replace(/^.*#/, ''),
      name: fieldText(event, 'name'),
      password: fieldText(event, 'password'),
    };
    void action.run(async () => {
      const answer = await app.api.setup(request);
      app.dispatch({ type: 'session', session: answer, atMs: Date.now() });
      app.goTo('/');
    });
  };

  return (
    <div class="entry">
      <Title>Set up this station</Title>
      <p>Make the first account. It can do everything: add assets, enrol sensor nodes, let others in.</p>
      <form onSubmit={submit}>
        {token.value === '' && (
          <Field
            label="Setup link"
            name="token"
            required
            autocomplete="off"
            hint="The station prints it once when it starts for the first time. Open it here, or paste it."
          />
        )}
        <Field label="Your name" name="name" required maxLength={80} autocomplete="username" />
        <Field
          label="Password"
          name="password"
          type="password"
          required
          minLength={10}
          maxLength={200}
          autocomplete="new-password"
          hint="At least 10 characters. A short sentence is easy to remember and hard to guess."
        />
        <Failure failure={action.failure.value} />
        <button type="submit" class="main" disabled={action.busy.value}>
          Make the account
        </button>
      </form>
    </div>
  );
}

export function Login({ session }: { session: SessionState }) {
  const app = useApp();
  const action = useAction();
  const submit = (event: Event) => {
    event.preventDefault();
    const request = { name: fieldText(event, 'name'), password: fieldText(event, 'password') };
    void action.run(async () => {
      const answer = await app.api.login(request);
      app.dispatch({ type: 'session', session: answer, atMs: Date.now() });
    });
  };
  return (
    <div class="entry">
      <Title>Sign in</Title>
      <p>Station “{session.site}”</p>
      <form onSubmit={submit}>
        <Field label="Name" name="name" required maxLength={80} autocomplete="username" />
        <Field label="Password" name="password" type="password" required autocomplete="current-password" />
        <Failure failure={action.failure.value} />
        <button type="submit" class="main" disabled={action.busy.value}>
          Sign in
        </button>
      </form>
    </div>
  );
}
