/** What is used of it: the package comes without types. Transforms are unscaled, in single precision. */
declare module '@echogarden/pffft-wasm/simd' {
  interface Pffft {
    readonly HEAPF32: Float32Array;
    /** @param kind 0 real, 1 complex. 0 when the length is not offered. */
    _pffft_new_setup(size: number, kind: 0 | 1): number;
    _pffft_destroy_setup(setup: number): void;
    _pffft_aligned_malloc(bytes: number): number;
    _pffft_aligned_free(pointer: number): void;
    /** @param direction 0 forward, 1 backward */
    _pffft_transform_ordered(
      setup: number,
      input: number,
      output: number,
      work: number,
      direction: 0 | 1,
    ): void;
  }
  export default function load(): Promise<Pffft>;
}
