/** Links that the shop gives to an owner: what they are, who made them, and an end to them. */
import { useSignal } from '@preact/signals';
import type { OwnerLink, OwnerLinkMade } from '../../contract/owner.ts';
import { day } from '../format.ts';
import { useApp } from '../state/store.ts';
import { ConfirmButton, Failure, useAction, useRead } from './actions.tsx';

const DAYS = [
  { days: 14, label: '2 weeks' },
  { days: 91, label: '3 months' },
  { days: 366, label: 'a year' },
] as const;

export function OwnerLinks({ assetId, assetName }: { assetId: number; assetName: string }) {
  const { api } = useApp();
  const path = `/assets/${assetId}/owner-links`;
  const links = useRead<OwnerLink[]>(() => api.call('GET', path), path);
  const made = useSignal<string | null>(null);
  const days = useSignal(91);
  const action = useAction();
  const make = () =>
    void action.run(async () => {
      const { token } = await api.call<OwnerLinkMade>('POST', path, { days: days.value });
      made.value = `${location.origin}/owner#${token}`;
      links.again();
    });
  return (
    <section class="panel" aria-labelledby="owner-links-heading">
      <h2 id="owner-links-heading">Links for the owner</h2>
      <p>
        A page for a phone, without a login: is {assetName} getting worse, by how much, what to do next and by
        when. It shows nothing else, and whoever has the link can read it.
      </p>
      <div class="in-line">
        <label class="select">
          Valid for
          <select
            value={days.value}
            onChange={(event) => {
              days.value = Number(event.currentTarget.value);
            }}
          >
            {DAYS.map((option) => (
              <option key={option.days} value={option.days}>
                {option.label}
              </option>
            ))}
          </select>
        </label>
      </div>
      <div class="buttons">
        <button type="button" disabled={action.busy.value} onClick={make}>
          Make a link
        </button>
      </div>
      <Failure failure={action.failure.value} />
      <div role="status">{made.value !== null && <Made link={made.value} />}</div>
      <Failure failure={links.failure.value} />
      {links.data.value?.length === 0 && <p class="none">No link has been made.</p>}
      <ul class="plain owner-links">
        {links.data.value?.map((link) => (
          <li key={link.id}>
            <Entry
              link={link}
              onRevoke={async () => {
                links.data.value = await api.call('DELETE', `${path}/${link.id}`);
                made.value = null;
              }}
            />
          </li>
        ))}
      </ul>
    </section>
  );
}

function Made({ link }: { link: string }) {
  const copied = useSignal<'' | 'Copied.' | 'Could not copy: mark it and copy it by hand.'>('');
  const isHere = /^https?:\/\/(localhost|127\.|\[::1\])/.test(link);
  return (
    <div class="made-link">
      <p>Give this to the owner; it is shown only now:</p>
      <p>
        <code>{link}</code>
      </p>
      <div class="buttons">
        <button
          type="button"
          onClick={() => {
            const done = navigator.clipboard?.writeText(link) ?? Promise.reject(new Error('no clipboard'));
            done.then(
              () => {
                copied.value = 'Copied.';
              },
              () => {
                copied.value = 'Could not copy: mark it and copy it by hand.';
              },
            );
          }}
        >
          Copy the link
        </button>
        <span>{copied.value}</span>
      </div>
      {isHere && (
        <p class="hint">
          This address is reached from this computer only. Open the station by its own address first.
        </p>
      )}
    </div>
  );
}

function Entry({ link, onRevoke }: { link: OwnerLink; onRevoke(): Promise<void> }) {
  const { nowMs } = useApp();
  const on = (ms: number) => day(ms, nowMs.value);
  const { id, madeBy, madeMs, expiresMs, revokedMs, openedCount, lastOpenedDayMs } = link;
  const isOver = revokedMs !== null || expiresMs <= nowMs.value;
  const state =
    revokedMs !== null
      ? `revoked on ${on(revokedMs)}`
      : isOver
        ? `expired on ${on(expiresMs)}`
        : `valid until ${on(expiresMs)}`;
  const opened =
    lastOpenedDayMs === null
      ? 'not opened yet'
      : `opened ${openedCount} ${openedCount === 1 ? 'time' : 'times'}, last on ${on(lastOpenedDayMs)}`;
  return (
    <>
      <span>
        Link {id} by {madeBy || 'somebody'}, {on(madeMs)}: {state}; {opened}
      </span>
      {!isOver && (
        <ConfirmButton label="Revoke" question={`Revoke link ${id}?`} confirm="Revoke" onConfirm={onRevoke}>
          <p>Whoever has it cannot open it any more. This cannot be undone; another one can be made.</p>
        </ConfirmButton>
      )}
    </>
  );
}
