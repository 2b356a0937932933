// A QR code (ISO/IEC 18004) as one SVG path, one unit a module. The kept library qrcode-generator
// makes the modules.
import qrcode from 'qrcode-generator';

/** The free border that the standard asks for, modules. */
export const quietZone = 4;

export interface QrDrawing {
  /** Modules across, with the free border. */
  size: number;
  path: string;
}

export function drawQr(text: string): QrDrawing {
  // 0: the smallest version that holds it. M: readable with 15 % of it dirty, as on a workshop wall.
  const code = qrcode(0, 'M');
  code.addData(text, 'Byte');
  code.make();
  const count = code.getModuleCount();
  let path = '';
  for (let row = 0; row < count; row++) {
    for (let column = 0; column < count; column++) {
      if (code.isDark(row, column)) path += `M${column + quietZone} ${row + quietZone}h1v1h-1z`;
    }
  }
  return { size: count + 2 * quietZone, path };
}
