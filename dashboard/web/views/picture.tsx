import { useEffect, useRef } from 'preact/hooks';

interface Drawing<View> {
  update(view: View): void;
  destroy(): void;
}

interface PictureProps<View> {
  /** Loads the chart library and puts a drawing on the canvas. */
  create(canvas: HTMLCanvasElement): Promise<Drawing<View>>;
  view: View;
  label: string;
}

/** A canvas whose drawing lives as long as it is on the page, and is made anew when light turns to dark. */
export function Picture<View>({ create, view, label }: PictureProps<View>) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const drawing = useRef<Drawing<View> | null>(null);
  const newest = useRef(view);
  newest.current = view;

  // A picture keeps the kind it was made with.
  useEffect(() => {
    let gone = false;
    const draw = async () => {
      drawing.current?.destroy();
      drawing.current = null;
      const made = await create(canvas.current!);
      if (gone) return made.destroy();
      made.update(newest.current);
      drawing.current = made;
    };
    const dark = matchMedia('(prefers-color-scheme: dark)');
    dark.addEventListener('change', draw);
    void draw();
    return () => {
      gone = true;
      dark.removeEventListener('change', draw);
      drawing.current?.destroy();
      drawing.current = null;
    };
  }, []);

  useEffect(() => drawing.current?.update(view), [view]);

  return (
    <div class="picture">
      <canvas ref={canvas} role="img" aria-label={label} />
    </div>
  );
}
