/** What the figures come to, option by option. */
import type { Believed, DecisionAnswer } from '../../../contract/decisions.ts';

export const amount = (value: number): string => Math.round(value).toLocaleString('en');

export function DecideAnswer({ answer, currency }: { answer: DecisionAnswer; currency: string }) {
  return (
    <section class="panel" aria-labelledby="costs-heading">
      <h2 id="costs-heading">What each costs</h2>
      <table class="values">
        <thead>
          <tr>
            <th scope="col">Option</th>
            <th scope="col" class="figure money">
              Expected, {currency}
            </th>
            <th scope="col" class="figure money">
              At once
            </th>
            <th scope="col" class="figure money">
              If it breaks down
            </th>
          </tr>
        </thead>
        <tbody>
          {answer.options.map(({ name, expected, atOnce, withBreakdown, coveredShare }) => (
            <tr key={name}>
              <th scope="row">
                {name}
                {coveredShare > 0 && (
                  <p class="hint">{Math.round(100 * coveredShare)} % of the time under guarantee</p>
                )}
              </th>
              <td class="figure money">
                {amount(expected.middle)} <Range of={expected} />
              </td>
              <td class="figure money">{amount(atOnce.middle)}</td>
              <td class="figure money">{amount(withBreakdown)}</td>
            </tr>
          ))}
        </tbody>
      </table>
      <ul class="sentences">
        {[...answer.sentences, ...answer.breakEvens.map(({ sentence }) => sentence)].map((sentence) => (
          <li key={sentence}>{sentence}</li>
        ))}
      </ul>
      <p class="hint">
        Expected: paid at once, plus the chance of a breakdown times what it costs, plus the chance of a later
        repair times its price; a guarantee takes its part of the repair, never what a breakdown costs
        besides. The range has all figures at their least, and all at their most. A failure is taken to be
        equally likely at any time of the kept period; prices are those of today.
      </p>
    </section>
  );
}

function Range({ of: { low, high } }: { of: Believed }) {
  return low === high ? null : (
    <span class="range">
      {amount(low)} to {amount(high)}
    </span>
  );
}
