* The character display behind the parallel port. Its enable line has to fall for every byte.

DISPON  LDX     #1740           ; 15 ms after power comes on
        BSR     PAUSE
        LDA     #$38            ; 8 bits, 2 lines
        BSR     DISPCMD
        LDX     #480            ; 4.1 ms after the first
        BSR     PAUSE
        LDA     #$38
        BSR     DISPCMD
        LDX     #11             ; 100 us after the second
        BSR     PAUSE
        LDA     #$38
        BSR     DISPCMD
        LDA     #$0C            ; on, no cursor
        BSR     DISPCMD
        LDA     #$01            ; clear
        BSR     DISPCMD
        LDX     #249            ; 2.16 ms for clearing
        BSR     PAUSE
        LDA     #$06            ; move to the right
        BSR     DISPCMD
        RTS

* A command: select low while enable rises and falls.
DISPCMD STA     DISPDAT
        LDA     #%00000001
        STA     DISPCTL
        CLRA
        STA     DISPCTL
        BRA     DISPGAP

* A character.
DISPCHR STA     DISPDAT
        LDA     #%00000011
        STA     DISPCTL
        LDA     #%00000010
        STA     DISPCTL

* Every byte needs its time.
DISPGAP LDB     #9
DISPG   DECB
        BNE     DISPG
        RTS

* Text from X, ended by 0.
DISPTXT LDA     ,X+
        BEQ     DISPEND
        BSR     DISPCHR
        BRA     DISPTXT
DISPEND RTS

* 8 cycles for each unit of X.
PAUSE   LEAX    -1,X
        BNE     PAUSE
        RTS
