/** A mount that has turned in its clamp: what happened, and the way to set it right. */
import type { Location } from '../../contract/model.ts';
import { moment } from '../format.ts';
import { useApp } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';

export const turnedText = (turnedDeg: number): string => `mount turned by ${Math.round(turnedDeg)}°`;

export function TurnedNotice({ place }: { place: Location }) {
  const { api, nowMs, readAssets } = useApp();
  const action = useAction();
  const turned = place.mount?.turned;
  if (!turned) return null;
  return (
    <section class="panel strong" aria-labelledby="turned-heading">
      <h2 id="turned-heading">The mount has moved</h2>
      <p>
        Since {moment(turned.atMs, nowMs.value)} gravity reaches the sensor from another side: it has turned
        by {Math.round(turned.turnedDeg)}° in its place. Levels before and after are not the same measurement,
        so the trend began a new stretch there. Stop the machine or vehicle, check the clamp, and set it
        right.
      </p>
      <p class="hint">
        If the clamp was only fitted after the location was chosen here, or the vehicle stood on a steep slope
        all the while, nothing is loose: say so below.
      </p>
      <Failure failure={action.failure.value} />
      <button
        type="button"
        class="main"
        disabled={action.busy.value}
        onClick={() =>
          void action.run(async () => {
            await api.confirmMount(place.id);
            await readAssets();
          })
        }
      >
        The clamp is right as it is now
      </button>
    </section>
  );
}
