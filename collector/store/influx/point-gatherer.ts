/** One field of one point, as a query gives it. */
export interface FieldRow {
  _time: string;
  _field: string;
  _value: number | string;
  axis: string;
}

export type Fields = ReadonlyMap<string, number | string>;

/** All axes of one sensor at one time. */
export interface Point {
  ms: number;
  axes: ReadonlyMap<string, Fields>;
}

/** Gathers the fields of one sensor's points, which come in any order. */
export class PointGatherer {
  readonly #times = new Map<number, Map<string, Map<string, number | string>>>();

  add({ _time, _field, _value, axis }: FieldRow): void {
    const ms = Date.parse(_time);
    let axes = this.#times.get(ms);
    if (axes === undefined) {
      axes = new Map();
      this.#times.set(ms, axes);
    }
    let fields = axes.get(axis);
    if (fields === undefined) {
      fields = new Map();
      axes.set(axis, fields);
    }
    fields.set(_field, _value);
  }

  /** Oldest first. */
  points(): Point[] {
    return [...this.#times].sort(([a], [b]) => a - b).map(([ms, axes]) => ({ ms, axes }));
  }
}
