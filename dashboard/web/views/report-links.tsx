/** The report of a run or an asset, to be passed on. */
import { useSignal } from '@preact/signals';
import { ApiFailure } from '../api.ts';
import { Failure, useAction } from './actions.tsx';

/** `path`: of the report, for example `/api/runs/12/report`. */
export function ReportLinks({ path }: { path: string }) {
  const withNames = useSignal(false);
  const action = useAction();
  const query = withNames.value ? '?include=names-and-times' : '';
  const also = withNames.value ? '&' : '?';
  return (
    <section class="panel" aria-labelledby="report-heading">
      <h2 id="report-heading">Report</h2>
      <p>
        One file that somebody at another workshop understands without this station: finding, conditions,
        sounds and pictures, method and cautions.
      </p>
      <div class="list">
        <label>
          <input
            type="checkbox"
            checked={withNames.value}
            onChange={(event) => {
              withNames.value = event.currentTarget.checked;
            }}
          />
          <span>With names, notes and exact times; otherwise they are left out</span>
        </label>
      </div>
      <div class="buttons">
        <a class="button" href={`${path}${query}`} target="_blank" rel="noopener">
          Open the report
        </a>
        <a class="button" href={`${path}${query}${also}download=true`} download>
          Save it as a file
        </a>
        <button
          type="button"
          disabled={action.busy.value}
          onClick={() => void action.run(() => savePdf(`${path}.pdf${query}`))}
        >
          {action.busy.value ? 'Printing…' : 'Save it as PDF'}
        </button>
      </div>
      <Failure failure={action.failure.value} />
      <p class="hint">
        It takes some seconds. Sounds play in the file only, not in the PDF. Where this station cannot make a
        PDF, open the report and print it.
      </p>
    </section>
  );
}

/** Not a plain link: a station without a browser of its own says so, and that must be read and not saved. */
async function savePdf(url: string): Promise<void> {
  const answer = await fetch(url);
  if (!answer.ok) {
    const unexplained = { code: `HTTP_${answer.status}`, message: 'The station sent no PDF.' };
    throw new ApiFailure(answer.status, await answer.json().catch(() => unexplained));
  }
  const name = /filename="([^"]+)"/.exec(answer.headers.get('content-disposition') ?? '')?.[1];
  const link = document.createElement('a');
  link.href = URL.createObjectURL(await answer.blob());
  link.download = name ?? 'report.pdf';
  link.click();
  // Some browsers begin to save after the click has returned.
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
