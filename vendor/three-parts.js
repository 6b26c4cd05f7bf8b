// What the app takes of three.js; the bundle holds nothing else that the library can leave out.
export {
  BufferAttribute,
  BufferGeometry,
  CanvasTexture,
  DirectionalLight,
  HemisphereLight,
  LinearFilter,
  LinearMipmapLinearFilter,
  Mesh,
  MeshLambertMaterial,
  PerspectiveCamera,
  Scene,
  SRGBColorSpace,
  Vector3,
  WebGLRenderer,
} from "three";
