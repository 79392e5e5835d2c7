/** What can hurt people at this work, and what this station cannot know. */
import { CAUTIONS } from '../../contract/words/cautions.ts';
import { Title } from './title.tsx';

export function Cautions() {
  return (
    <>
      <Title>Cautions</Title>
      <p class="lead">
        Local rules, the vehicle maker’s instructions and licensed practice come first. Where they say
        otherwise, they win over this page.
      </p>
      <div class="cautions">
        {CAUTIONS.map(({ heading, points }) => (
          <section class="panel" key={heading}>
            <h2>{heading}</h2>
            <ul>
              {points.map((point) => (
                <li key={point}>{point}</li>
              ))}
            </ul>
          </section>
        ))}
      </div>
    </>
  );
}
