/** Named counts since the start, for health and metrics. A name appears once it has happened. */
export class Counters {
  readonly #counts = new Map<string, number>();

  add(name: string, by = 1): void {
    this.#counts.set(name, (this.#counts.get(name) ?? 0) + by);
  }

  all(): Record<string, number> {
    return Object.fromEntries(this.#counts);
  }
}
