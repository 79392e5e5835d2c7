/**
 * Solves `matrix` x = `rightSide` by Gaussian elimination with partial pivoting (Golub and Van Loan, Matrix
 * Computations, 3.4). For the small, well-scaled systems of filter design. The arguments are left as they are.
 *
 * @param matrix n rows of n numbers
 * @throws RangeError when the matrix is singular to working precision
 */
export function solveLinear(matrix: readonly (readonly number[])[], rightSide: readonly number[]): number[] {
  const n = rightSide.length;
  const rows = matrix.map((row, i) => Float64Array.from([...row, rightSide[i]!]));
  const largest = Math.max(
    ...rows.map((row) => row.subarray(0, n).reduce((m, v) => Math.max(m, Math.abs(v)), 0)),
  );
  for (let column = 0; column < n; column++) {
    let pivot = column;
    for (let i = column + 1; i < n; i++) {
      if (Math.abs(rows[i]![column]!) > Math.abs(rows[pivot]![column]!)) pivot = i;
    }
    if (!(Math.abs(rows[pivot]![column]!) > largest * 1e-14)) {
      throw new RangeError(`linear system of ${n} equations is singular at column ${column}`);
    }
    [rows[column], rows[pivot]] = [rows[pivot]!, rows[column]!];
    for (let i = column + 1; i < n; i++) {
      const factor = rows[i]![column]! / rows[column]![column]!;
      for (let j = column; j <= n; j++) rows[i]![j]! -= factor * rows[column]![j]!;
    }
  }
  const solution = new Array<number>(n).fill(0);
  for (let i = n - 1; i >= 0; i--) {
    let sum = rows[i]![n]!;
    for (let j = i + 1; j < n; j++) sum -= rows[i]![j]! * solution[j]!;
    solution[i] = sum / rows[i]![i]!;
  }
  return solution;
}
