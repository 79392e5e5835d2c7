import type { OwnerView } from '../../contract/owner.ts';
import { day } from '../format.ts';

export type Shown =
  | { kind: 'waiting' }
  | { kind: 'view'; view: OwnerView }
  | { kind: 'refused'; message: string; remedy: string };

export function Owner({ shown }: { shown: Shown }) {
  return (
    <main class="owner">
      {shown.kind === 'waiting' && <p role="status">Asking the workshop’s station…</p>}
      {shown.kind === 'refused' && (
        <>
          <h1>{shown.message}</h1>
          <p>{shown.remedy}</p>
        </>
      )}
      {shown.kind === 'view' && <View view={shown.view} />}
    </main>
  );
}

/** A word beside the sentence, so that a glance is enough; never a colour. */
const ANSWERS: Record<OwnerView['answer'], string> = {
  worse: 'Worse',
  steady: 'Steady',
  better: 'Less',
  'not-known': 'Not known',
};

function View({ view }: { view: OwnerView }) {
  const { safety, headline, howMuch, found, next, byMs, overdue, signs, places, nowMs } = view;
  const on = (ms: number) => day(ms, nowMs);
  return (
    <>
      <p class="of">{view.asset}</p>
      {safety !== null && (
        <section class="safety" aria-labelledby="safety">
          <h2 id="safety">Safety first</h2>
          <p>
            <strong>{safety}</strong>
          </p>
        </section>
      )}
      <section aria-labelledby="answer">
        <h1>Is it getting worse?</h1>
        <p class="answer" id="answer">
          {headline}
        </p>
        {howMuch !== null && <p>{howMuch}</p>}
        {found !== null && (
          <p>
            <strong>Found:</strong> {found}
          </p>
        )}
      </section>
      <section class="next" aria-labelledby="next">
        <h2 id="next">What to do next</h2>
        <p>{next}</p>
        {byMs !== null && (
          <p class="by">
            {overdue ? 'It was due by' : 'By'} <strong>{on(byMs)}</strong>
          </p>
        )}
      </section>
      {signs.length > 0 && (
        <section aria-labelledby="signs">
          <h2 id="signs">Do not wait if</h2>
          <ul>
            {signs.map((sign) => (
              <li key={sign}>{sign}</li>
            ))}
          </ul>
        </section>
      )}
      {places.length > 0 && (
        <section aria-labelledby="places">
          <h2 id="places">Each place that is measured</h2>
          <dl>
            {places.map(({ name, answer, text }) => (
              <div key={name}>
                <dt>{name}</dt>
                <dd>
                  <strong>{ANSWERS[answer]}</strong>: {text}
                </dd>
              </div>
            ))}
          </dl>
        </section>
      )}
      <footer>
        <p>
          {view.measuredMs === null ? 'Not measured yet.' : `Last measured on ${on(view.measuredMs)}.`}{' '}
          “Normal” is this place’s own level when watching began, under the same conditions; ± holds about 95
          of 100 cases.
        </p>
        <p>
          Sensors show where to look and do not replace an inspection: brakes, steering and tyres can fail
          without vibrating first. This link shows only this page, until {on(view.validUntilMs)}.
        </p>
      </footer>
    </>
  );
}
