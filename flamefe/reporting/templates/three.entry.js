// What the page of a result takes from three.js (npm: three, MIT). three.min.js is made from this by
//   npm install three@0.187.0 esbuild@0.28.2
//   npx esbuild three.entry.js --bundle --minify --format=iife --global-name=THREE --target=es2020 --outfile=three.min.js
// with the licence put before it as a comment.
export {
  AmbientLight, BufferAttribute, BufferGeometry, DataTexture, DirectionalLight, DoubleSide,
  LinearFilter, LineBasicMaterial, LineSegments, Mesh, MeshLambertMaterial, OrthographicCamera,
  Scene, SRGBColorSpace, Vector3, WebGLRenderer,
} from "three";
export { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";
