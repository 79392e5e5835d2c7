/** Colours of the page's style sheet for the canvas, which cannot see them by itself. */
export interface ChartColours {
  line: string;
  fill: string;
  grid: string;
  text: string;
  flag: string;
  surface: string;
}

export function chartColours(): ChartColours {
  const style = getComputedStyle(document.documentElement);
  const read = (name: string) => style.getPropertyValue(name).trim();
  return {
    line: read('--chart-line'),
    fill: read('--chart-fill'),
    grid: read('--line'),
    text: read('--text-soft'),
    flag: read('--chart-flag'),
    surface: read('--surface'),
  };
}

/** Tick labels as the texts write numbers: no grouping, no trailing zeros. */
export const plain = (value: number): string => String(Number(value.toPrecision(3)));

/** What every chart shares: no animation (the data moves enough), our type, a calm grid. */
export function axisStyle(colours: ChartColours, title: string) {
  return {
    title: { display: true, text: title, color: colours.text },
    grid: { color: colours.grid },
    border: { display: false },
    ticks: {
      color: colours.text,
      maxRotation: 0,
      autoSkipPadding: 16,
      callback: (value: string | number) => plain(Number(value)),
    },
  };
}
