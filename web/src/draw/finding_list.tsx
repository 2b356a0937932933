// What the service's check says of the drawing, as it is drawn; pressing a finding shows its place.
import type { Desk } from './desk.ts';
import { thingAt } from './file.ts';
import type { Finding } from './office.ts';

const severities = { forbids: 'Must be put right', costs: 'Costs time', note: 'Worth knowing' } as const;

export function FindingList({ desk }: { desk: Desk }) {
  const { check, checking, checkTrouble } = desk;
  const findings = check?.check?.findings ?? [];
  const worst = findings.filter((f) => f.severity === 'forbids').length + (check?.wrong.length ?? 0);
  return (
    <section class="panel" aria-labelledby="findings-title" data-testid="findings" data-state={checking ? 'checking' : 'checked'}>
      <h2 id="findings-title">Check</h2>
      <p role="status" class={`outcome ${checkTrouble ? 'bad' : !check || checking ? 'wait' : check.may_run ? '' : 'bad'}`} data-testid="verdict">
        {checkTrouble
          ? `Not checked: ${checkTrouble}`
          : !check || checking
            ? 'Being checked'
            : check.too_long
              ? 'The check takes too long for this page; run “tagline check” on the file.'
              : check.may_run
                ? `Carts may run on it, up to ${check.check!.max_live_carts} of them.`
                : `Carts must not run on it yet: ${worst === 1 ? 'one thing' : `${worst} things`} must be put right.`}
      </p>
      <ul class="draw-findings">
        {check?.wrong.map((wrong, k) => {
          const thing = thingAt(desk.file!, wrong.pointer);
          return (
            <li key={k} class="finding forbids">
              <button class="quiet" disabled={!thing} data-testid={`wrong-${k}`} onClick={() => thing && choose(desk, thing)}>
                {thing ? `${thing.kind} ${thing.id}` : wrong.pointer || 'The file'}
              </button>
              <p>{wrong.wrong}; {wrong.right}.</p>
            </li>
          );
        })}
        {findings.map((finding, k) => <One key={k} desk={desk} finding={finding} k={k} />)}
      </ul>
    </section>
  );
}

function choose(desk: Desk, thing: { kind: 'point' | 'segment' | 'station' | 'charger' | 'zone'; id: string }) {
  desk.choose(thing);
  if (desk.chosenPlace) desk.look(desk.chosenPlace);
}

function One({ desk, finding, k }: { desk: Desk; finding: Finding; k: number }) {
  return (
    <li class={`finding ${finding.severity}`}>
      <button class="quiet" onClick={() => desk.show(finding)} data-testid={`finding-${k}`}>{finding.place}</button>
      <p><strong>{severities[finding.severity]}:</strong> {finding.figure}</p>
      <details>
        <summary>What to do</summary>
        <p>{finding.remedy}</p>
        <p class="none">Rule: {finding.rule} ({finding.source})</p>
      </details>
    </li>
  );
}
