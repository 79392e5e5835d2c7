/** What a comparison rests on beside levels: the size of a defect's line, and which locations show the same. */
import type { CompareResult, Connection } from '../../contract/inquiries.ts';

/** A line less sure than one in a thousand is not shown as one. */
const LINE_PRESENT = Math.log(1000);
const REFERENCE_M_PER_S2 = 1e-6;

function nameOf({ locations }: CompareResult): (id: string) => string {
  return (id) => locations.find(({ locationId }) => String(locationId) === id)?.name ?? id;
}

export function LineSizes({ result }: { result: CompareResult }) {
  // Results kept from before this was told do not hold it.
  const line = result.comparison.defectLine ?? null;
  if (line === null) return null;
  const name = nameOf(result);
  const sizes = line.sizes
    .map(({ locationId, carriers }) => {
      const seen = carriers.filter(({ evidence }) => evidence >= LINE_PRESENT);
      const power = seen.reduce((sum, { amplitudeRmsMPerS2 }) => sum + amplitudeRmsMPerS2 ** 2, 0);
      return { locationId, power, seen: seen.length, of: carriers.length };
    })
    .sort((a, b) => b.power - a.power);
  return (
    <>
      <p>Size of the line at {line.frequencyHz.toFixed(1)} Hz, all bands that show it added up:</p>
      <ul>
        {sizes.map(({ locationId, power, seen, of }) => (
          <li key={locationId}>
            {seen === 0
              ? 'not seen'
              : `${(10 * Math.log10(power / REFERENCE_M_PER_S2 ** 2)).toFixed(1)} dB, seen in ${seen} of ${of} bands`}
            : {name(locationId)}
          </li>
        ))}
      </ul>
    </>
  );
}

const KINDS: Record<Connection['kind'], string> = {
  shared: 'largely the same',
  partly: 'partly the same',
  separate: 'not the same',
  unknown: 'cannot be told',
};

export function Connections({ result }: { result: CompareResult }) {
  const { connections } = result.comparison;
  if (connections.length === 0) return null;
  const name = nameOf(result);
  return (
    <details>
      <summary>Which locations show the same</summary>
      <ul>
        {connections.map((one) => (
          <li key={`${one.firstId}/${one.secondId}`}>
            The {name(one.firstId)} and the {name(one.secondId)}: {KINDS[one.kind]}
            {figure(one)}.
          </li>
        ))}
      </ul>
      <p class="hint">
        Coherence from 0 to 1 is of waveforms, between sensors of one board; r is of levels over time, between
        boards. Neither says which comes first.
      </p>
    </details>
  );
}

function figure({ coherence, comodulation }: Connection): string {
  if (coherence)
    return ` (coherence ${coherence.mean.toFixed(2)}; chance alone: below ${coherence.chanceLimit.toFixed(2)})`;
  if (comodulation)
    return ` (r = ${comodulation.correlation.toFixed(2)}, clocks within ${comodulation.clockErrorMs.toFixed(0)} ms)`;
  return '';
}
