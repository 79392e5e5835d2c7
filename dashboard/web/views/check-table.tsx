/** Result of a gravity check, axis by axis. */
import type { GravityCheckResult } from '../../contract/rig.ts';
import { significant } from '../format.ts';

const G_M_PER_S2 = 9.80665;

export function CheckTable({ check }: { check: GravityCheckResult }) {
  return (
    <>
      <table class="values">
        <thead>
          <tr>
            <th scope="col">Axis</th>
            <th scope="col" class="figure">
              Scale
            </th>
            <th scope="col" class="figure wide">
              Offset, m/s²
            </th>
          </tr>
        </thead>
        <tbody>
          {['X', 'Y', 'Z'].map((axis, i) => (
            <tr key={axis}>
              <th scope="row">{axis}</th>
              <td class="figure">{check.scale[i]!.toFixed(4)}</td>
              <td class="figure wide">{twoDecimals(check.offsetMPerS2[i]!)}</td>
            </tr>
          ))}
        </tbody>
      </table>
      <p class="hint">
        Scale: what it reads for 1 m/s². {check.positions} positions.{' '}
        {check.residualMPerS2 === null
          ? 'No slanted position was held, so 1 % is allowed for axes that are not square to each other.'
          : `Scale and offset leave ${significant(check.residualMPerS2, 2)} m/s² (${significant((100 * check.residualMPerS2) / G_M_PER_S2, 2)} % of gravity) unexplained.`}{' '}
        0.3 % is allowed for local gravity.
      </p>
    </>
  );
}

/** Without a sign before nothing. */
const twoDecimals = (value: number): string => value.toFixed(2).replace(/^-(0\.00)$/, '$1');
