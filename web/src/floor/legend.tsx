// What the signs on the floor mean, folded away until asked for.

export function Legend() {
  return (
    <details class="legend">
      <summary>What the signs mean</summary>
      <ul>
        <li>
          <Sign>
            <path class="authority-line" d="M2 12H30" />
            <path class="authority-bar" d="M31 4V20" />
          </Sign>
          A cart may go so far now. The rest of its track, lighter, stays closed to the others.
        </li>
        <li>
          <Sign>
            <path class="hull-shape" d="M6 4H24L32 12L24 20H6Z" />
          </Sign>
          Cart, nose at the pointed end; the number is its name, and each has its own colour and
          dashes.
        </li>
        <li>
          <Sign>
            <path class="hull-shape" d="M6 4H24L32 12L24 20H6Z" />
            <rect class="load" x="9" y="5" width="14" height="14" />
          </Sign>
          Cart with a load on.
        </li>
        <li>
          <Sign>
            <rect class="station" x="11" y="6" width="13" height="13" />
          </Sign>
          Station.
        </li>
        <li>
          <Sign>
            <rect class="siding" x="10" y="4" width="16" height="16" rx="8" />
            <circle class="point" cx="18" cy="12" r="2.6" />
          </Sign>
          Siding: a cart may rest here. With a bolt: charger.
        </li>
        <li>
          <Sign>
            <path class="zone-edge" d="M2 12H34" />
            <path class="zone-band" d="M2 12H34" />
            <path class="tape-line" d="M2 12H34" />
          </Sign>
          Zone: it can be stopped as a whole. With a red edge: it is stopped.
        </li>
        <li>
          <Sign>
            <g class="closed">
              <path class="closed-line" d="M2 12H34" />
              <path class="cross" d="M6 7L16 17M6 17L16 7M20 7L30 17M20 17L30 7" />
            </g>
          </Sign>
          Out of service; with thin crosses: planned. A station too is crossed out.
        </li>
        <li>
          <b class="legend-mark">= + − ! ? ×</b>
          Waiting, charging, out of service, needs a person, position in doubt, link lost. Between two tags a cart
          is drawn where it should be by its planned speed.
        </li>
      </ul>
    </details>
  );
}

function Sign(props: { children: preact.ComponentChildren }) {
  return (
    <svg class="sign hue-0 pattern-0" width="36" height="24" viewBox="0 0 36 24" aria-hidden="true">
      {props.children}
    </svg>
  );
}
