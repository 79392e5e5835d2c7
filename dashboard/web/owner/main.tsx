/** The owner's page: knows the link and nothing else of the station. */
import { render } from 'preact';
import type { ApiError } from '../../contract/model.ts';
import type { OwnerView } from '../../contract/owner.ts';
import '../styles/tokens.css';
import '../styles/base.css';
import './owner.css';
import { Owner, type Shown } from './owner.tsx';

/** The token stands behind the #, which no browser sends along; it goes into a header, without any cookie. */
async function read(): Promise<Shown> {
  const token = location.hash.slice(1);
  try {
    const answer = await fetch('/owner/view', {
      headers: { authorization: `Bearer ${token}` },
      credentials: 'omit',
      cache: 'no-store',
      referrerPolicy: 'no-referrer',
    });
    const body: unknown = await answer.json();
    if (answer.ok) return { kind: 'view', view: body as OwnerView };
    const { message, remedy = '' } = body as ApiError;
    return { kind: 'refused', message, remedy };
  } catch {
    return {
      kind: 'refused',
      message: 'The workshop’s station did not answer.',
      remedy: 'It may be switched off, or out of reach from here. Try again later, or call the workshop.',
    };
  }
}

const page = document.getElementById('page')!;
const show = (shown: Shown) => render(<Owner shown={shown} />, page);

async function readAndShow(): Promise<void> {
  show({ kind: 'waiting' });
  show(await read());
}

addEventListener('hashchange', () => void readAndShow());
void readAndShow();
