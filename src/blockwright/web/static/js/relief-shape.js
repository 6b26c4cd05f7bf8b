// What <relief-view> shows: heights as they are read, and the meshes of a block's face and sides made of them.
// Meshes lie in mm round the block's middle, x right, z towards the lower edge, y up; the face prints at y = 0.

const UNDER_MM = 2; // of wood shown under the deepest place

export function readHeights(data) {
  const head = new DataView(data);
  const [columns, rows] = [head.getUint32(0, true), head.getUint32(4, true)];
  const [low, high] = [12, 16].map((at) => head.getFloat32(at, true));
  const heights = new Float32Array(columns * rows);
  for (let k = 0; k < heights.length; k++) {
    heights[k] = low + (head.getUint16(20 + 2 * k, true) / 65535) * (high - low);
  }
  return { columns, rows, low, heights };
}

export function readBits(data) {
  const head = new DataView(data);
  return { columns: head.getUint32(0, true), rows: head.getUint32(4, true), last: new Uint8Array(data, 8) };
}

// Heights in squares twice as large, each as high as the highest of its four: no line that prints is lost.
export function halved({ columns: across, rows: down, heights: before, ...same }) {
  const columns = Math.ceil(across / 2);
  const rows = Math.ceil(down / 2);
  const heights = new Float32Array(columns * rows);
  for (let row = 0, k = 0; row < rows; row++) {
    const first = 2 * row * across;
    const second = Math.min(2 * row + 1, down - 1) * across;
    for (let column = 0; column < columns; column++, k++) {
      const west = 2 * column;
      const east = Math.min(west + 1, across - 1);
      heights[k] = Math.max(before[first + west], before[first + east], before[second + west], before[second + east]);
    }
  }
  return { ...same, columns, rows, heights };
}

// The outermost squares' middles are stretched to the block's edges.
export function faceOf(three, mesh, wide, high) {
  const { columns, rows, heights } = mesh;
  const places = new Float32Array(columns * rows * 3);
  const onPicture = new Uint16Array(columns * rows * 2);
  const squares = new Uint32Array((columns - 1) * (rows - 1) * 6);
  for (let row = 0, k = 0; row < rows; row++) {
    for (let column = 0; column < columns; column++, k++) {
      places[3 * k] = (column / (columns - 1) - 0.5) * wide;
      places[3 * k + 1] = heights[k];
      places[3 * k + 2] = (row / (rows - 1) - 0.5) * high;
      onPicture[2 * k] = ((column + 0.5) / columns) * 65535;
      onPicture[2 * k + 1] = (1 - (row + 0.5) / rows) * 65535;
    }
  }
  for (let row = 0, at = 0; row < rows - 1; row++) {
    for (let k = row * columns; k < (row + 1) * columns - 1; k++, at += 6) {
      squares[at] = k;
      squares[at + 1] = squares[at + 4] = k + columns;
      squares[at + 2] = squares[at + 3] = k + 1;
      squares[at + 5] = k + columns + 1;
    }
  }
  const { BufferGeometry, BufferAttribute } = three;
  const face = new BufferGeometry();
  face.setAttribute("position", new BufferAttribute(places, 3));
  face.setAttribute("uv", new BufferAttribute(onPicture, 2, true));
  face.setAttribute("normal", new BufferAttribute(normalsOf(mesh, wide, high), 3));
  face.setIndex(new BufferAttribute(squares, 1));
  return face;
}

function normalsOf(mesh, wide, high) {
  const { columns, rows, heights } = mesh;
  const across = wide / (columns - 1);
  const down = high / (rows - 1);
  const normals = new Float32Array(columns * rows * 3);
  for (let row = 0, k = 0; row < rows; row++) {
    for (let column = 0; column < columns; column++, k++) {
      const west = column > 0 ? k - 1 : k;
      const east = column < columns - 1 ? k + 1 : k;
      const north = row > 0 ? k - columns : k;
      const south = row < rows - 1 ? k + columns : k;
      const x = (heights[west] - heights[east]) / (across * Math.max(east - west, 1));
      const z = (heights[north] - heights[south]) / (down * Math.max((south - north) / columns, 1));
      const length = Math.hypot(x, 1, z);
      normals[3 * k] = x / length;
      normals[3 * k + 1] = 1 / length;
      normals[3 * k + 2] = z / length;
    }
  }
  return normals;
}

// Down to a little below the deepest place.
export function sidesOf(three, mesh, wide, high) {
  const { columns, rows, heights, low } = mesh;
  const north = Array.from({ length: columns }, (_, column) => [column, 0]);
  const south = Array.from({ length: columns }, (_, column) => [column, rows - 1]);
  const west = Array.from({ length: rows }, (_, row) => [0, row]);
  const east = Array.from({ length: rows }, (_, row) => [columns - 1, row]);
  const places = [];
  const normals = [];
  const corners = [];
  for (const [line, way] of [[north, [0, 0, -1]], [south, [0, 0, 1]], [west, [-1, 0, 0]], [east, [1, 0, 0]]]) {
    const first = places.length / 3;
    for (const [column, row] of line) {
      const x = (column / (columns - 1) - 0.5) * wide;
      const y = (row / (rows - 1) - 0.5) * high;
      places.push(x, heights[row * columns + column], y, x, low - UNDER_MM, y);
      normals.push(...way, ...way);
    }
    for (let k = 0; k < line.length - 1; k++) {
      const a = first + 2 * k;
      corners.push(a, a + 1, a + 2, a + 2, a + 1, a + 3);
    }
  }
  const { BufferGeometry, BufferAttribute } = three;
  const sides = new BufferGeometry();
  sides.setAttribute("position", new BufferAttribute(new Float32Array(places), 3));
  sides.setAttribute("normal", new BufferAttribute(new Float32Array(normals), 3));
  sides.setIndex(new BufferAttribute(new Uint32Array(corners), 1));
  return sides;
}
