/** Guided check of a sensor against gravity: it is laid on each of its six faces, and the page follows. */
import { type Signal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { GravityCheckState } from '../../contract/rig.ts';
import { significant } from '../format.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';
import { CheckTable } from './check-table.tsx';

const FACES = ['x+', 'x-', 'y+', 'y-', 'z+', 'z-'];
const LOOK_MS = 1_000;

const faceName = (face: string) => `${face[0]!.toUpperCase()} ${face[1] === '+' ? 'up' : 'down'}`;

interface CheckProps {
  nodeId: string;
  sensor: number;
  onSaved(): void;
}

export function GravityCheck({ nodeId, sensor, onSaved }: CheckProps) {
  const { api } = useApp();
  const action = useAction();
  const check = useSignal<GravityCheckState | null>(null);
  const run = (request: () => Promise<unknown>) =>
    void action.run(async () => {
      await request();
      check.value = null;
    });
  return (
    <section class="panel" aria-labelledby="check-heading">
      <h2 id="check-heading">Check against gravity</h2>
      <Failure failure={action.failure.value} />
      {check.value === null ? (
        <>
          <p>
            Take the sensor off its clamp. You will lay it still on each of its six faces, then on a slant or
            two; about two minutes. It gives the scale and offset of each axis.
          </p>
          <button
            type="button"
            disabled={action.busy.value}
            onClick={() =>
              void action.run(async () => {
                check.value = await api.beginGravityCheck(nodeId, sensor);
              })
            }
          >
            Begin the check
          </button>
        </>
      ) : (
        <>
          <Steps check={check} nodeId={nodeId} sensor={sensor} />
          <div class="buttons">
            <button
              type="button"
              class="main"
              disabled={action.busy.value || check.value.result === null}
              onClick={() =>
                run(async () => {
                  await api.saveGravityCheck(nodeId, sensor);
                  onSaved();
                })
              }
            >
              Save the result
            </button>
            <button
              type="button"
              disabled={action.busy.value}
              onClick={() => run(() => api.giveUpGravityCheck(nodeId, sensor))}
            >
              Give up
            </button>
          </div>
        </>
      )}
    </section>
  );
}

function Steps({
  check,
  nodeId,
  sensor,
}: {
  check: Signal<GravityCheckState | null>;
  nodeId: string;
  sensor: number;
}) {
  const { api } = useApp();
  useEffect(() => {
    let over = false;
    const timer = setInterval(async () => {
      try {
        const now = await api.gravityCheck(nodeId, sensor);
        if (!over && check.value !== null) check.value = now;
      } catch {
        // The next look tries again; a lost station has its own banner.
      }
    }, LOOK_MS);
    return () => {
      over = true;
      clearInterval(timer);
    };
  }, []);
  const state = check.value;
  if (state === null) return null;
  const { positions, stillSeconds, holdSeconds, newestMPerS2, result } = state;
  const held = (face: string) => positions.some((position) => position.face === face);
  const slants = positions.filter(({ face }) => face === null).length;
  return (
    <>
      <p>
        Lay it on any face not held yet and leave it alone for {holdSeconds + 1} seconds. Any order will do.
      </p>
      <ol class="faces" aria-label="Positions">
        {FACES.map((face) => (
          <li key={face} class={held(face) ? 'done' : ''}>
            <strong>{faceName(face)}</strong> {held(face) ? '✓ held' : 'to do'}
          </li>
        ))}
        <li class={slants > 0 ? 'done' : ''}>
          <strong>Slanted</strong> {slants > 0 ? `✓ ${slants} held` : 'wanted for a cross-check'}
        </li>
      </ol>
      <p role="status">
        {newestMPerS2 === null
          ? 'Waiting for the sensor’s next second…'
          : stillSeconds < holdSeconds
            ? `Moving, or still for ${stillSeconds} s only.`
            : `Still for ${stillSeconds} s: held.`}
      </p>
      {newestMPerS2 !== null && (
        <p class="hint">
          It reads X {significant(newestMPerS2[0])}, Y {significant(newestMPerS2[1])}, Z{' '}
          {significant(newestMPerS2[2])} m/s².
        </p>
      )}
      {result && (
        <>
          <p>
            All six faces are held. Tolerance of its scale: ± {significant(result.tolerancePct, 2)} %.
            {slants === 0 && ' Lean it against something, at a slant, to see what scale and offset leave.'}
          </p>
          <CheckTable check={result} />
        </>
      )}
    </>
  );
}
